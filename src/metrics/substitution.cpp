#include "metrics/substitution.hpp"

#include "metrics/settling.hpp"
#include "model/numerals.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Mean time of the rows of a set, where there is a time column that holds all of them.
std::optional<double> mean_time_s(const Bench& bench, std::size_t run, const std::vector<std::uint32_t>& rows)
{
    const auto& table = bench.run(run).table;
    const auto* time = table ? table->number("time") : nullptr;
    if (time == nullptr || rows.empty())
        return std::nullopt;
    double sum = 0;
    for (const auto row : rows)
        sum += time->values.at(row) - time->values.at(rows.front());
    const double mean = time->values.at(rows.front()) + sum / static_cast<double>(rows.size());
    return std::isnan(mean) ? std::nullopt : std::optional(mean);
}

std::optional<double> mean_time_s(const Bench& bench, const ReadingMean& mean)
{
    const auto& set = bench.set(mean.set);
    return mean_time_s(bench, set.run, set.rows);
}

/// u of a mean with its resolution.
double whole_u_lx(const Bench& bench, const ReadingMean& mean)
{
    const auto& set = bench.set(mean.set);
    const double step = set.resolution_input ? *set.resolution / std::sqrt(12.0) : 0.0;
    return std::hypot(set.standard_uncertainty, step);
}

std::string identity_of(const Bench& bench, const SequenceRequest& request)
{
    return bench.run_identity(request.run) + (request.identity.empty() ? "" : "/" + request.identity);
}

/// A at the time of B, from the two means that bracket it, with what the source may have done in between.
ReadingMean bracket(Bench& bench, const SequenceRequest& request, const ReadingMean& before,
                    const ReadingMean& between, const ReadingMean& after)
{
    const auto t1 = mean_time_s(bench, before);
    const auto t = mean_time_s(bench, between);
    const auto t2 = mean_time_s(bench, after);
    const bool timed = t1 && t && t2 && *t2 > *t1;
    const double weight = timed ? (*t - *t1) / (*t2 - *t1) : 0.5;
    const double change = std::abs(after.total.value() - before.total.value());
    const double u_change = std::hypot(whole_u_lx(bench, before), whole_u_lx(bench, after));
    const auto source = bench.rectangular(
        identity_of(bench, request) + "/source", "source, between the two bracketing means", "delta_S", "lx",
        0, std::max(change, u_change) / 2,
        timed ? "weighted by the times of the means" : "half way between the two means", true);
    ReadingMean result;
    result.total = before.total + (after.total - before.total) * weight + source;
    result.mean = before.mean;
    result.set = before.set;
    result.range = before.range;
    result.trail = before.trail;
    result.trail.add(after.trail);
    return result;
}

/// S = 1 + s for a series without return: from the settled warm-up log, else from the stated drift.
std::optional<Expression> source_factor(Bench& bench, const SequenceRequest& request, const ReadingMean& a,
                                        const ReadingMean& b, Trail& trail)
{
    const auto& run = bench.run(request.run);
    const auto identity = identity_of(bench, request) + "/source";
    const auto* log = bench.settled_log(run.source);
    const auto t_a = mean_time_s(bench, a);
    const auto t_b = mean_time_s(bench, b);
    std::string why = log == nullptr ? "there is no warm-up log of the source" : log->unsettled;
    if (log != nullptr && log->unsettled.empty() && !(t_a && t_b))
        why = "the readings have no times";
    if (log != nullptr && log->unsettled.empty() && t_a && t_b) {
        const auto n = std::min(bench.set(a.set).n, bench.set(b.set).n);
        if (const auto change = level_change(*log, std::abs(*t_b - *t_a), n)) {
            uncertainty::InputQuantity input;
            input.identity = identity;
            input.quantity = "source, between the two means";
            input.symbol = "s";
            input.unit = "1";
            input.standard_uncertainty = change->standard_uncertainty;
            input.evaluation = uncertainty::Evaluation::type_a;
            input.distribution = uncertainty::Distribution::student_t;
            input.degrees_of_freedom = change->degrees_of_freedom;
            input.note = fmt::format("settled part of the log of run {}, lag {} s", bench.run(log->run).id,
                                     model::numeral(std::abs(*t_b - *t_a), 4));
            return (1.0 + bench.input(input)).named("S");
        }
        why = "the settled part of the warm-up log is too short for this lag";
    }
    const auto* source = bench.qualification().source(run.source);
    if (source != nullptr && source->drift)
        return (1.0 + bench.rectangular(identity, "source, between the two means", "s", "1", 0,
                                        *source->drift, "drift of the source as stated, half-width"))
            .named("S");
    trail.undecide(fmt::format(
        "run {}: meter and product read one after the other without return, and neither a settled "
        "warm-up log nor a drift of the source tells how far it moved ({})",
        run.id, why));
    trail.uncertainty_unknown = true;
    return std::nullopt;
}

SetRequest set_request(const SequenceRequest& request, std::size_t block)
{
    const auto& subject = request.blocks[block];
    SetRequest set;
    set.column = request.column.at(subject.who);
    set.rows = subject.rows;
    set.level_lx = request.level_lx;
    const bool comes_back = request.blocks.size() == 3;
    set.place = comes_back ? (block == 1 ? "B" : block == 0 ? "A1" : "A2") : (block == 0 ? "A" : "B");
    set.identity = (request.identity.empty() ? "" : request.identity + "/") + set.place;
    set.words = request.words.at(subject.who);
    set.symbol = request.symbol.at(subject.who) + (comes_back && block != 1 ? (block == 0 ? "1" : "2") : "");
    return set;
}

}  // namespace

std::vector<Block> blocks_of(std::span<const std::uint32_t> rows, std::span<const std::string> who,
                             std::span<const std::size_t> positions)
{
    std::vector<Block> blocks;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const bool goes_on = i > 0 && blocks.back().who == who[i] && positions[i] == positions[i - 1] + 1;
        if (!goes_on)
            blocks.push_back({who[i], {}});
        blocks.back().rows.push_back(rows[i]);
    }
    return blocks;
}

bool is_sequence(std::span<const Block> blocks)
{
    if (blocks.size() == 2)
        return blocks[0].who != blocks[1].who;
    return blocks.size() == 3 && blocks[0].who == blocks[2].who && blocks[0].who != blocks[1].who;
}

std::vector<std::optional<Sequence>> sequences_of(Bench& bench, std::span<const SequenceRequest> requests)
{
    std::vector<SetRequest> sets;
    for (const auto& request : requests)
        if (is_sequence(request.blocks))
            for (std::size_t block = 0; block < request.blocks.size(); ++block)
                sets.push_back(set_request(request, block));
    const auto means =
        sets.empty() ? std::vector<ReadingMean>{} : means_of(bench, requests.front().run, sets);

    std::vector<std::optional<Sequence>> sequences;
    std::size_t at = 0;
    for (const auto& request : requests) {
        if (!is_sequence(request.blocks)) {
            sequences.emplace_back();
            continue;
        }
        Sequence sequence;
        sequence.bracketing_who = request.blocks.front().who;
        sequence.between = means[at + 1];
        if (request.blocks.size() == 3) {
            sequence.bracketing = bracket(bench, request, means[at], means[at + 1], means[at + 2]);
        } else {
            sequence.bracketing = means[at];
            sequence.source = source_factor(bench, request, means[at], means[at + 1], sequence.trail);
        }
        at += request.blocks.size();
        sequences.push_back(std::move(sequence));
    }
    return sequences;
}

}  // namespace luxdossier::metrics
