#pragma once

#include "diagnostics/diagnostic.hpp"
#include "model/correction.hpp"
#include "model/quantity.hpp"
#include "model/stated_model.hpp"
#include "model/table.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace luxdossier::model {

// The qualification header as values. Text that was not stated is empty; everything else that may be absent
// is an optional. Units: canonical (illuminance lx, length m, time s, angle rad, temperature K, relative
// figures as fractions).

struct Party {
    std::string name, address, contact, accreditation;
};
struct Amendment {
    std::string number, revision, reason;
};

/// A condition of the room during the tests, and the limits that were agreed for it.
struct RoomCondition {
    std::optional<Quantity> stated;  ///< K; 1 for relative humidity
    std::optional<double> from, to;  ///< limits, in the same unit
};
struct Environment {
    RoomCondition temperature, humidity;
};

/// ISO/IEC 17025:2017, 7.8.2 and 7.8.3 ask for what stands here.
struct DocumentInfo {
    std::string number, title, revision, method;
    std::string place;                    ///< where the tests were done
    std::string sampling;                 ///< how the samples were chosen
    std::vector<std::string> deviations;  ///< from the method, additions and exclusions
    Environment environment;
    Party customer, laboratory;
    std::optional<Date> received, tested_from, tested_to, issued;
    std::vector<std::string> supplied_by_customer;
    std::optional<Amendment> amends;
};

struct Product {
    std::string description;
    std::optional<double> scale;               ///< lx per count; already applied to the readings
    std::optional<Quantity> resolution;        ///< lx
    std::optional<Quantity> ceiling;           ///< lx
    std::optional<Quantity> integration_time;  ///< s
    std::optional<bool> own_light;
};

struct Sample {
    std::string id, description, serial, firmware, condition;
    std::string received = {};  ///< state in which it was received
};

/// A tabulated curve, such as a spectrum or an angular target.
struct CurveFile {
    std::string file;
    std::vector<double> x, y;
};

struct Configuration {
    std::string id, description;
    std::optional<double> applied_factor;
    bool target_is_cosine = false;
    std::optional<CurveFile> target;  ///< angle in rad, response
    bool reference_is_peak = false;
    std::optional<CurveFile> relative_responsivity;  ///< of the product's sensor in it; wavelength in m
};

struct CalibrationPoint {
    double illuminance_lx = 0;
    double correction_factor = 1;              ///< derived from indication or error where those were stated
    double relative_expanded_uncertainty = 0;  ///< fraction of the illuminance
    std::string written;                       ///< as stated, for the traceability chapter
};

struct Certificate {
    std::string number, laboratory, accreditation, traceable_to;
    Date issued;
    std::optional<Date> calibrated;  ///< day of the measurement; ageing counts from it, else from `issued`
    std::optional<Date> recall;
    std::string calibration_source_kind;
    std::optional<double> calibration_colour_temperature_k;
    std::optional<Quantity> temperature;  ///< K, with its uncertainty where stated
    double coverage_factor = 2;
    std::optional<double> coverage_probability;
    std::vector<CalibrationPoint> points;  ///< sorted by illuminance, at least one
    std::optional<double> common_relative_expanded_uncertainty;
};

struct MeterRange {
    double up_to_lx = 0;
    double resolution_lx = 0;
};

struct OutsideSpan {
    double linearity_half_width = 0;
    std::string evidence;
};

/// A further characteristic of a meter, by its index (f2, f5, f7 ... of ISO/CIE 19476:2014): E times 1 + x.
struct Characteristic {
    std::string index;
    Quantity value;                    ///< unit 1, estimate 0 with its uncertainty
    std::vector<std::string> sources;  ///< ids it holds for; empty: all
    std::string note;
};
/// An intermediate check (ISO/IEC 17025:2017, 6.4.10).
struct IntermediateCheck {
    Date date;
    std::string found, by;
};

struct Meter {
    std::string id, description, serial;
    std::optional<double> resolution_lx;
    std::vector<MeterRange> ranges;  ///< sorted by up_to
    std::optional<Certificate> certificate;
    std::optional<double> annual_drift_per_year;      ///< half-width, fraction per year of 31 556 925.9747 s
    std::optional<double> linearity;                  ///< f3, half-width, fraction
    std::optional<double> range_change;               ///< f11, half-width, fraction
    std::optional<double> mismatch_index;             ///< f1', fraction
    std::optional<double> directional_index;          ///< f2, fraction
    std::optional<Quantity> temperature_coefficient;  ///< fraction per K, with its uncertainty where stated
    std::optional<CurveFile> relative_responsivity;   ///< wavelength in m
    std::optional<OutsideSpan> outside_span;
    std::optional<Quantity> integration_time;  ///< s
    std::vector<Characteristic> characteristics;
    std::vector<IntermediateCheck> checks;
    std::string class_standard, class_name;
    std::vector<std::string> from_class;  ///< keys that the stated class filled in: printed "class limit"
};

struct Equipment {
    std::string id, description, serial, certificate;
    std::string traceable_to;
    std::optional<Date> recall;
    std::optional<Date> checked;                     ///< last intermediate check
    std::optional<Quantity> correction_factor;       ///< unit 1: what its reading is multiplied by
    std::optional<Quantity> temperature_correction;  ///< K: what is added to its reading
    std::optional<double> resolution_w_m2;           ///< of an irradiance meter
};

enum class SourceKind { led, incandescent, fluorescent, daylight, near_infrared, other };
[[nodiscard]] std::string_view source_kind_text(SourceKind kind);

struct Source {
    std::string id, description, level_method;
    SourceKind kind = SourceKind::led;
    std::string risk_group;  ///< IEC 62471: "exempt", "RG1", "RG2", "RG3", or empty
    std::string supply;      ///< "dc", "mains", "pwm" or empty
    std::optional<double> supply_frequency_hz;
    std::optional<CurveFile> spectrum;            ///< wavelength in m
    std::optional<Quantity> spectral_correction;  ///< unit 1
    std::optional<double> settling_tolerance;     ///< fraction
    std::optional<double> drift;                  ///< half-width over one reading pair, fraction
};

struct Geometry {
    std::optional<Quantity> distance, plane_offset, source_diameter, sensor_diameter, eccentricity;  ///< m
    std::optional<Quantity> lateral;      ///< m: u of x and of y
    std::optional<Quantity> stage_zero;   ///< rad
    std::optional<Quantity> stage_scale;  ///< 1
};

enum class RunKind { dark, comparison, position, field_map, warm_up, angular, near_infrared, waveform };
[[nodiscard]] std::string_view run_kind_text(RunKind kind);
enum class Method { side_by_side, substitution };
enum class Ambient { subtracted, present };

struct RunFile {
    std::string file;
    std::size_t unmatched_rows = 0;
    std::size_t matched_rows = 0;              ///< of parts joined by time
    double largest_time_difference_s = 0;      ///< of rows joined by time
    std::string join;                          ///< how it was joined, in words; empty: a single file
    std::vector<std::uint32_t> comment_lines;  ///< lines among the data rows that begin with #
};

/// One series of readings under stated conditions. Where sample, configuration, source or a condition is a
/// column, each distinct combination is a run of its own: they share the table and the `id`; `rows` tells
/// them apart.
struct Run {
    std::string id;
    RunKind kind = RunKind::comparison;
    std::vector<RunFile> files;
    std::string sample, configuration, source, meter;  ///< ids; empty where not stated
    std::optional<Method> method;
    std::vector<std::string> position_runs;
    std::string dark_run;
    std::string thermometer, irradiance_meter;  ///< ids of equipment
    std::string visible_source;  ///< light that stands beside the emitter of a near-infrared run
    std::optional<Ambient> ambient;
    std::optional<Quantity> meter_temperature;  ///< K, with its uncertainty where stated
    Conditions
        conditions;  ///< level in lx, plane in degree, others canonical; own_light, light, day ... as text
    std::optional<TimePoint> started;
    bool time_ordered = true;
    std::shared_ptr<const Table> table;
    std::vector<std::uint32_t> rows;  ///< rows of the table, from 0, in file order, exclusions left out
    diagnostics::Location location;   ///< of the run in the header

    /// Whether a row holds a reading of that column.
    [[nodiscard]] bool holds(std::string_view column, std::uint32_t row) const;
    /// Whether product and meter were read together: as stated, else where a row holds both readings (one
    /// that holds either is a substitution).
    [[nodiscard]] bool is_side_by_side() const;
    /// Whether it names that equipment as its thermometer or irradiance meter.
    [[nodiscard]] bool names_equipment(std::string_view equipment) const;
};

/// Two ids or words do not contradict each other: equal, or one is not stated.
[[nodiscard]] inline bool compatible(std::string_view a, std::string_view b)
{
    return a.empty() || b.empty() || a == b;
}

struct AcceptedRemark {
    std::string remark, reason, run;
};
/// Rows count data rows of the run's file from 1.
struct Exclusion {
    std::string run;
    std::vector<std::size_t> rows;
    std::string reason;
};
struct Concession {
    std::string reference, applies_to, text;
};
struct Opinion {
    std::string by_role, basis, text;
};
struct SignOff {
    std::string role, name, function;
};

struct EvaluationSettings {
    double coverage_probability = 0.9545;
    std::optional<double> settling_window_s;
    bool monte_carlo = true;
    int significant_digits = 2;
    bool only_judged_trials = false;      ///< trials of the results that a limit selects, of no others
    std::size_t most_trials = 2'000'000;  ///< of one result
    bool shortest_interval = false;
    std::uint64_t seed = 1;
    std::optional<double> ripple_error;  ///< fraction: for the shortest integration time
};

/// One file that was read: for evidence and the copies under inputs/.
struct InputFile {
    std::string path;     ///< relative to the folder; "limits: NAME" for a limits file outside
    std::string content;  ///< bytes as read (empty for files above 64 MiB: copied from disk instead)
    std::string sha256;   ///< hex, filled by seal/
    std::size_t size = 0;
    std::string role;  ///< "qualification header", "readings of bare", "limits" ...
};

struct Qualification {
    DocumentInfo document;
    Product product;
    std::vector<Sample> samples;
    std::vector<Configuration> configurations;
    std::string reference_configuration, reference_source;
    std::optional<double> reference_temperature_k;
    std::vector<Meter> meters;
    std::vector<Equipment> equipment;
    std::vector<Source> sources;
    Geometry geometry;
    std::vector<Run> runs;
    std::vector<StatedModel> models;
    std::vector<CorrectionRequest> corrections;
    EvaluationSettings evaluation;
    std::vector<AcceptedRemark> accepted_remarks;
    std::vector<Exclusion> exclusions;
    std::vector<Concession> concessions;
    std::vector<Opinion> opinions;
    std::vector<SignOff> sign_off;
    std::vector<InputFile> files;  ///< header first, then in the order in which the header names them

    [[nodiscard]] const Sample* sample(std::string_view id) const;
    [[nodiscard]] const Configuration* configuration(std::string_view id) const;
    [[nodiscard]] const Meter* meter(std::string_view id) const;
    [[nodiscard]] const Source* source(std::string_view id) const;
    /// The acceptance of a remark (its id) for a run, or for all; nullptr where the header accepts it not.
    [[nodiscard]] const AcceptedRemark* acceptance(std::string_view remark, std::string_view run) const;
    [[nodiscard]] const Equipment* equipment_of(std::string_view id) const;
    /// The runs as the header states them, each once: of those that condition columns split, the first part.
    [[nodiscard]] std::vector<const Run*> stated_runs() const;
    /// Number, title and issue date are all stated; otherwise every page says "Draft".
    [[nodiscard]] bool is_draft() const;
};

}  // namespace luxdossier::model
