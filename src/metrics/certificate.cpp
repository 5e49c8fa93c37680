#include "metrics/meter_factors.hpp"

#include "model/numerals.hpp"
#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

std::string certificate_identity(const model::Meter& meter)
{
    return fmt::format("meter:{}/certificate:{}", meter.id, meter.certificate->number);
}

/// An input of the certificate: normal where its degrees of freedom are infinite, else Student's t.
uncertainty::InputQuantity certificate_input(const model::Meter& meter)
{
    const auto& certificate = *meter.certificate;
    uncertainty::InputQuantity input;
    input.unit = "1";
    input.note = fmt::format(
        "certificate {}, k = {}{}", certificate.number, model::numeral(certificate.coverage_factor, 4),
        certificate.coverage_probability
            ? fmt::format(", {} %", model::numeral(*certificate.coverage_probability * 100, 4))
            : "");
    if (certificate.coverage_probability)
        input.degrees_of_freedom = uncertainty::degrees_of_freedom_of(certificate.coverage_factor,
                                                                      *certificate.coverage_probability);
    if (std::isfinite(input.degrees_of_freedom))
        input.distribution = uncertainty::Distribution::student_t;
    return input;
}

void remark_all_common(Bench& bench, const model::Meter& meter, Trail& trail)
{
    model::Remark remark;
    remark.id = "all-common";
    remark.severity = model::RemarkSeverity::note;
    remark.seen = fmt::format(
        "certificate {} of {} does not split its uncertainty into a common part and parts of the points",
        meter.certificate->number, meter.id);
    remark.effect =
        "all of it is taken as common to the points: linearity and ratios look better than they are";
    remark.advice =
        "ask the calibration laboratory for the common part and state common_expanded_uncertainty";
    trail.remarks.push_back(bench.remark(std::move(remark)));
}

/// C_i of one point: c_i C_common (1 + eps_i), or c_i (1 + u_i z) where the certificate is not split.
Expression point_factor(Bench& bench, const model::Meter& meter, std::size_t index)
{
    const auto& certificate = *meter.certificate;
    const auto& point = certificate.points.at(index);
    const auto key = fmt::format("{}/point={}lx", certificate_identity(meter), point.illuminance_lx);
    if (const auto* known = bench.recall(key))
        return known->value;
    const double u = point.relative_expanded_uncertainty / certificate.coverage_factor;
    auto input = certificate_input(meter);
    Expression factor;
    if (!certificate.common_relative_expanded_uncertainty) {
        input.identity = certificate_identity(meter) + "/all";
        input.quantity = fmt::format("certificate of {}, all points together", meter.id);
        input.symbol = "z";
        input.standard_uncertainty = 1;
        factor = point.correction_factor * (1.0 + u * bench.input(input));
    } else {
        const double common = *certificate.common_relative_expanded_uncertainty / certificate.coverage_factor;
        input.identity = key;
        input.quantity =
            fmt::format("certificate of {}, point {} lx", meter.id, model::numeral(point.illuminance_lx, 9));
        input.symbol = fmt::format("eps_{}", point.illuminance_lx);
        // (a - b)(a + b) keeps its digits where the two are nearly equal
        input.standard_uncertainty = std::sqrt(std::max(0.0, (u - common) * (u + common)));
        factor = point.correction_factor * (1.0 + bench.input(input));
    }
    factor = factor.named(fmt::format("C_{}", point.illuminance_lx));
    bench.keep(key, {factor, {}});
    return factor;
}

Expression common_factor(Bench& bench, const model::Meter& meter)
{
    auto input = certificate_input(meter);
    input.identity = certificate_identity(meter) + "/common";
    input.quantity = fmt::format("certificate of {}, common part", meter.id);
    input.symbol = "C_common";
    input.estimate = 1;
    input.standard_uncertainty =
        *meter.certificate->common_relative_expanded_uncertainty / meter.certificate->coverage_factor;
    return bench.input(input);
}

Expression with_common(Bench& bench, const model::Meter& meter, const Expression& factor)
{
    return meter.certificate->common_relative_expanded_uncertainty ? factor * common_factor(bench, meter)
                                                                   : factor;
}

/// One remark a run and end of the span, however many means lie beyond it.
std::size_t remark_outside_span(Bench& bench, const model::Meter& meter, std::size_t run, double abscissa_lx,
                                const std::string& end)
{
    const auto& points = meter.certificate->points;
    model::Remark remark;
    remark.id = "outside-span";
    remark.run = bench.run(run).id;
    remark.seen = fmt::format("{} read {} its calibrated span", meter.id, end);
    if (meter.outside_span) {
        remark.severity = model::RemarkSeverity::note;
        remark.effect = fmt::format("the factor of the nearest end is used, with ±{} % for linearity ({})",
                                    model::numeral(meter.outside_span->linearity_half_width * 100, 3),
                                    meter.outside_span->evidence);
        remark.advice = "have the meter calibrated over the levels that are used";
    } else {
        remark.severity = model::RemarkSeverity::blocks;
        remark.effect = "every result that uses the reading is not decided";
        remark.advice = "have the meter calibrated there, or state outside_span with its evidence";
    }
    const auto key = fmt::format("{}/outside-span/{}", bench.run(run).id, end);
    const auto& readings = bench.collect(key, abscissa_lx);
    const auto [least, greatest] = std::ranges::minmax(readings);
    auto seen = fmt::format("{}: {} lx", remark.seen, model::numeral(least, 6));
    if (readings.size() > 1)
        seen = fmt::format("{}: {} means, {} lx to {} lx", remark.seen, readings.size(),
                           model::numeral(least, 6), model::numeral(greatest, 6));
    seen += fmt::format("; certificate {} spans {} lx to {} lx", meter.certificate->number,
                        model::numeral(points.front().illuminance_lx, 6),
                        model::numeral(points.back().illuminance_lx, 6));
    if (const auto* known = bench.recall(key)) {
        bench.see(known->trail.remarks.front(), std::move(seen));
        return known->trail.remarks.front();
    }
    remark.seen = std::move(seen);
    Traced raised;
    raised.trail.remarks.push_back(bench.remark(std::move(remark)));
    return bench.keep(key, std::move(raised)).trail.remarks.front();
}

/// C of the nearest end point, with the evidence for linearity outside the span where there is some.
Expression outside_span(Bench& bench, const model::Meter& meter, std::size_t run, double abscissa_lx,
                        bool below, Trail& trail)
{
    const auto& points = meter.certificate->points;
    const std::string end = below ? "below" : "above";
    const auto factor = with_common(bench, meter, point_factor(bench, meter, below ? 0 : points.size() - 1));
    trail.remarks.push_back(remark_outside_span(bench, meter, run, abscissa_lx, end));
    if (!meter.outside_span) {
        if (!bench.accepts("outside-span", run))
            trail.undecide(fmt::format(
                "outside-span: {} read {} lx, outside the calibrated range, traceability not established",
                meter.id, model::numeral(abscissa_lx, 6)));
        return factor;
    }
    return factor *
           (1.0 + bench.rectangular(fmt::format("meter:{}/outside-span/{}", meter.id, end),
                                    fmt::format("linearity of {} {} the calibrated span", meter.id, end),
                                    "x_" + end, "1", 0, meter.outside_span->linearity_half_width,
                                    meter.outside_span->evidence));
}

}  // namespace

Factor certificate_factor(Bench& bench, const model::Meter& meter, std::size_t run,
                          const Expression& abscissa, Trail& trail)
{
    if (!meter.certificate || meter.certificate->points.empty()) {
        trail.undecide(fmt::format("reference not traceable: no certificate of {} is stated", meter.id));
        return std::nullopt;
    }
    const auto& points = meter.certificate->points;
    if (!meter.certificate->common_relative_expanded_uncertainty)
        remark_all_common(bench, meter, trail);
    const double at = abscissa.value();
    if (!(at >= points.front().illuminance_lx))
        return outside_span(bench, meter, run, at, true, trail).named("C");
    if (at > points.back().illuminance_lx)
        return outside_span(bench, meter, run, at, false, trail).named("C");
    if (points.size() == 1)
        return with_common(bench, meter, point_factor(bench, meter, 0)).named("C");

    std::size_t lower = 0;
    while (lower + 2 < points.size() && points[lower + 1].illuminance_lx <= at)
        ++lower;
    const auto& from = points[lower];
    const auto& to = points[lower + 1];
    const double width = std::log(to.illuminance_lx / from.illuminance_lx);
    const auto weight = (natural_logarithm(abscissa / from.illuminance_lx) / width).named("w");
    auto factor =
        point_factor(bench, meter, lower) * (1.0 - weight) + point_factor(bench, meter, lower + 1) * weight;
    factor = with_common(bench, meter, factor);
    if (at != from.illuminance_lx && at != to.illuminance_lx)
        factor =
            factor + bench.rectangular(fmt::format("{}/interpolation={}..{}lx", certificate_identity(meter),
                                                   from.illuminance_lx, to.illuminance_lx),
                                       fmt::format("certificate of {}, interpolation {} to {} lx", meter.id,
                                                   model::numeral(from.illuminance_lx, 9),
                                                   model::numeral(to.illuminance_lx, 9)),
                                       fmt::format("delta_{}", from.illuminance_lx), "1", 0,
                                       (to.correction_factor - from.correction_factor) / 2,
                                       "half the step between the two points");
    return factor.named("C");
}

}  // namespace luxdossier::metrics
