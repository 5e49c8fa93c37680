#pragma once

#include "model/evaluation.hpp"
#include "model/figure.hpp"
#include "model/limits.hpp"
#include "model/qualification.hpp"
#include "model/verdict.hpp"

#include <string>
#include <utility>
#include <vector>

namespace luxdossier::model {

/// What a metric family tells the report, workbook and docs about itself.
struct MetricInfo {
    std::string id;      ///< "reading_error"
    std::string title;   ///< "Reading error"
    std::string unit;    ///< record unit
    std::string symbol;  ///< plain text with _ for a subscript: "e"
    std::vector<std::string> conditions;
    bool has_sample = true;
    std::string meaning;  ///< one sentence
};
struct FamilyInfo {
    std::string id;        ///< "reading-error"
    std::string title;     ///< chapter heading
    std::string question;  ///< what the chapter answers
    std::string method;    ///< what was done, a paragraph
    std::vector<std::string>
        formulas;  ///< models as printed, plain text with _ and ^: "e = (D/E - 1) x 100 %"
    std::vector<MetricInfo> metrics;
};

/// Everything that the writers render; they compute nothing.
struct Dossier {
    Qualification qualification;
    std::optional<Limits> limits;
    Evaluation evaluation;
    std::vector<Remark> remarks;  ///< all, evaluation's and practice's, in the order of their table
    std::vector<std::string> rules_not_applied;  ///< remarks that need limits, where there are none
    Verdicts verdicts;
    std::vector<FamilyInfo> families;  ///< of the results, in registry order
    std::vector<Figure> figures;
    std::string version;                                         ///< of the program
    std::vector<std::pair<std::string, std::string>> libraries;  ///< name, version
    std::vector<std::pair<std::string, std::string>> faces;      ///< font file, SHA-256
    std::string platform;                                        ///< "Linux x86_64"
    TimePoint date;                                              ///< one date for all writers
    std::string template_name = "customer";
};

}  // namespace luxdossier::model
