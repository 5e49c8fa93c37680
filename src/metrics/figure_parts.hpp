#pragma once

#include "model/dossier.hpp"

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace luxdossier::metrics {

// What the figures of several families share.

/// "56.39 degree": a number with `decimals` places, U+2212 as minus, digits in threes from five on (ISO
/// 80000-1).
[[nodiscard]] std::string number_text(double value, int decimals);
/// A value alone, to three significant digits.
[[nodiscard]] std::string short_text(double value);
/// "17.7 min ± 0.3 min": the expanded uncertainty to one or two significant digits, the value to the same
/// place; the unit stands behind a narrow no-break space. Without U the value alone.
[[nodiscard]] std::string quantity_text(double value, std::optional<double> expanded_uncertainty,
                                        const std::string& unit, int digits_of_u = 2);

/// Text of a condition ("led", "100lx"), empty where it has none.
[[nodiscard]] std::string text_of(const model::Result& result, const std::string& condition);
/// Number of a condition, where it has one.
[[nodiscard]] std::optional<double> number_of(const model::Result& result, const std::string& condition);
[[nodiscard]] double expanded_uncertainty_of(const model::Result& result);
/// Where a result of a level stands on a logarithmic axis: the evaluated illuminance, else the nominal level;
/// empty where neither is above 0.
[[nodiscard]] std::optional<double> illuminance_of(const model::Result& result);

/// Indices of the results of one metric, in order.
[[nodiscard]] std::vector<std::size_t> results_of(const model::Dossier& dossier, const std::string& metric);
/// Indices grouped by a key, groups in the order of their first member.
[[nodiscard]] std::vector<std::vector<std::size_t>>
grouped(const std::vector<std::size_t>& indices, const std::function<std::string(std::size_t)>& key_of);

/// Of one sample's results over the levels those at one temperature, where a level was read at several: of
/// the temperature with the most levels. The others would stand above each other; they have the figure over
/// the temperature.
[[nodiscard]] std::vector<std::size_t> at_one_temperature(const model::Dossier& dossier,
                                                          const std::vector<std::size_t>& results);
/// "; other temperatures have a figure of their own", for captions, where any was left out.
[[nodiscard]] std::string other_temperatures_text(bool left_out);

/// One point of a result: its value in the record unit with U as whisker.
[[nodiscard]] model::Point point_of(const model::Result& result, double x);

/// A result with its place on the x axis.
struct Placed {
    std::size_t result = 0;
    double x = 0;
};
/// Limits that were decided for these results, as lines along x in the record unit, with the acceptance limit
/// where a guard band lies between. Where several results share an x the narrowest acceptance is drawn. A
/// limit of one x is given a width: a third to both sides on a logarithmic axis, else 2.
[[nodiscard]] std::vector<model::LimitLine> limit_lines(const model::Dossier& dossier,
                                                        const std::vector<Placed>& placed, bool logarithmic);

/// Fixes the y axis of a panel so that its limits and guard bands are seen: half a tolerance beyond each
/// limit (as in the strips of verdicts), two where a result lies that a limit judges. Whiskers may be cut
/// there. Where nothing lies beyond, or no limit is drawn, the axis stays free. Returns how many results lie
/// beyond.
std::size_t frame_by_limits(model::Panel& panel);
/// "; an arrow at the frame: a result beyond it (2)", empty for none: for captions.
[[nodiscard]] std::string beyond_text(std::size_t beyond);

/// One axis of values for panels that are compared, where that hides nothing: no panel's own values fill less
/// than a third of it. Fixed axes are joined with the others.
void share_values(std::span<model::Panel> panels);

/// Whether a result is a better answer to "what is the greatest?" than the one found so far (or none):
/// decided results come before others, then the magnitude counts. The result has a value.
[[nodiscard]] bool says_more(const model::Result& result, const model::Result* found);

/// Where a panel has more than ten series with marks, all but the five that say most step back: those of the
/// worst outcome, then of the least margin to a limit, then of the greatest `magnitude`. Returns how many
/// did.
std::size_t step_back(const model::Dossier& dossier, model::Panel& panel,
                      const std::function<double(const model::Series&)>& magnitude);
/// Greatest |y| of its points, as a magnitude for step_back.
[[nodiscard]] double greatest_magnitude(const model::Series& series);
/// The series goes into the background: grey, without marks and whiskers where it has a line.
void put_behind(model::Series& series);
/// "; in grey the other 35 samples", empty for none: for captions.
[[nodiscard]] std::string stepped_back_text(std::size_t stepped_back);

/// Names a figure by what it shows: "linearity/S1/windowed/led"; empty parts are left out.
[[nodiscard]] std::string figure_id(const std::string& kind, const std::vector<std::string>& parts);
/// "S1, windowed, led": for titles and captions.
[[nodiscard]] std::string listed(const std::vector<std::string>& parts);

/// Colour, mark and stroke of the n-th series: twenty are told apart.
[[nodiscard]] model::Mark mark_of(std::size_t series);
[[nodiscard]] int colour_of(std::size_t series);
[[nodiscard]] model::Stroke stroke_of(std::size_t series);

/// At most `buckets` pairs of least and greatest value, in the order of time, so that extremes stay; logs of
/// up to 2 buckets readings as they are.
[[nodiscard]] std::vector<std::size_t> thinned(std::span<const double> times, std::span<const double> values,
                                               std::size_t buckets);

}  // namespace luxdossier::metrics
