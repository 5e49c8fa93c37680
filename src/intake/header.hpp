#pragma once

#include "intake/csv_format.hpp"
#include "intake/object_reader.hpp"
#include "model/limits.hpp"
#include "model/qualification.hpp"

#include <algorithm>
#include <deque>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace luxdossier::intake {

/// A run as the header states it, before its files are read.
struct RunPart {
    std::string file;
    const JsonValue* file_at = nullptr;
    std::vector<ColumnRequest> columns;
    CsvFormat format;  ///< the run's, with what the part states of its own
    /// Its column for the time; nullptr where it has none.
    [[nodiscard]] const ColumnRequest* time() const
    {
        const auto found = std::ranges::find(columns, "time", &ColumnRequest::meaning);
        return found == columns.end() ? nullptr : &*found;
    }
};
struct RunStatement {
    model::Run run;
    std::vector<RunPart> parts;  ///< one, or several that are joined
    std::optional<double> join_within_s;
    std::optional<bool> time_ordered;
    const JsonValue* at = nullptr;  ///< the run in the header
};

/// A curve that the header names: read when the header is done, then put where it belongs.
struct CurveRequest {
    enum class Kind { angular_target, responsivity, spectrum };
    Kind kind = Kind::spectrum;
    std::string file;
    const JsonValue* at = nullptr;
    std::string role;
    std::function<void(model::Qualification&, model::CurveFile)> put;
};

/// The header while it is read: what its sections add to.
struct Header {
    model::Qualification qualification;
    std::vector<RunStatement> runs;
    std::vector<CurveRequest> curves;
    std::vector<const JsonValue*> exclusions;  ///< one a statement, for faults that only the readings show
    std::deque<JsonValue> merged_runs;         ///< runs with their defaults; statements point into it
};

/// Reads the whole header. Faults are appended; the header is only whole where none was.
void read_header(const JsonReading& reading, const JsonValue& root, const model::MetricCatalogue& metrics,
                 Header& header);

// Its sections, in files of their own.
void read_document(ObjectReader& root, model::DocumentInfo& document);
void read_product(ObjectReader& root, model::Product& product);
void read_samples(ObjectReader& root, Header& header);
void read_configurations(ObjectReader& root, Header& header);
void read_meters(ObjectReader& root, Header& header);
void read_equipment(ObjectReader& root, Header& header);
void read_sources(ObjectReader& root, Header& header);
void read_geometry(ObjectReader& root, model::Geometry& geometry);
void read_runs(ObjectReader& root, Header& header);
/// A file of models has no limits, and cannot ask for trials of judged results alone.
void read_evaluation(ObjectReader& root, model::EvaluationSettings& settings, bool has_limits);
void read_statements(ObjectReader& root, Header& header);
void read_corrections(ObjectReader& root, Header& header);
/// References from one part of the header to another, once all parts are known.
void check_references(const JsonReading& reading, const JsonValue& root, Header& header);

/// A relative path of a file inside the folder; a fault and empty where it is none.
[[nodiscard]] std::string read_path(const JsonReading& reading, const JsonValue& value);

/// Kinds of light source as files write them, in the order of model::SourceKind.
[[nodiscard]] std::span<const std::string_view> source_kinds();

/// Adds a fault for each id that was used before. `label`: "sample".
class UniqueIds {
public:
    explicit UniqueIds(std::string label) : label_(std::move(label)) {}
    void add(const ObjectReader& reader, const std::string& id);

private:
    std::string label_;
    std::vector<std::string> ids_;
};

}  // namespace luxdossier::intake
