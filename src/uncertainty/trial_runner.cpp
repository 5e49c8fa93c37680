#include "uncertainty/trial_plan.hpp"

namespace luxdossier::uncertainty {

TrialRunner::TrialRunner(const TrialPlan& plan, const BlockKernels& kernels)
    : plan_(&plan), kernels_(&kernels), streams_(plan.stream_keys.size()), storage_(plan.buffers),
      coordinates_(plan.largest_group + 1)
{
    for (const auto& constant : plan.constants)
        kernels.fill(constant.value, at(constant.buffer));
}

void TrialRunner::start_streams(std::uint64_t part)
{
    for (std::size_t index = 0; index < streams_.size(); ++index)
        streams_[index] = stream_of(plan_->stream_keys[index], part);
}

void TrialRunner::draw(const DrawInput& draw)
{
    auto& stream = streams_[draw.stream];
    double* const out = at(draw.out);
    switch (draw.shape) {
    case DrawInput::Shape::rectangular:
        return kernels_->rectangular(stream, draw.location, draw.scale, out);
    case DrawInput::Shape::trapezoidal:
        return kernels_->trapezoidal(stream, draw.location, draw.scale, draw.shape_parameter, out);
    case DrawInput::Shape::arcsine:
        return kernels_->arcsine(stream, draw.location, draw.scale, out);
    case DrawInput::Shape::normal:
        return kernels_->normal(stream, draw.location, draw.scale, out);
    case DrawInput::Shape::student_t:
        return kernels_->student_t(stream, draw.shape_parameter, draw.location, draw.scale, out);
    }
}

void TrialRunner::draw(const DrawGroup& draw)
{
    const double nu = draw.degrees_of_freedom;
    const bool is_normal = nu > 1e9;
    double* const squares = coordinates_.back().trials;
    const auto coordinate = [this](std::size_t index) { return coordinates_[index].trials; };
    const bool is_chained = !is_normal && draw.streams.size() > 1;
    if (is_chained)
        kernels_->fill(0.0, squares);
    for (std::size_t pair = 0; pair < draw.streams.size(); ++pair) {
        // Given k coordinates of a t, the next ones follow a t with nu + k degrees of freedom, scaled by what
        // the first ones say of the common variance (Kotz and Nadarajah 2004, 1.11).
        const double before = 2.0 * static_cast<double>(pair);
        double *const first = coordinate(2 * pair), *const second = coordinate(2 * pair + 1);
        kernels_->standard_pair(streams_[draw.streams[pair]], is_normal ? infinite : nu + before, first,
                                second);
        if (is_chained)
            kernels_->continue_pair(nu, before, squares, first, second);
    }
    for (const auto& member : draw.members) {
        double* const out = at(member.out);
        kernels_->fill(member.estimate, out);
        for (std::size_t index = 0; index < member.row.size(); ++index)
            if (member.row[index] != 0.0)
                kernels_->add_scaled(member.row[index], coordinate(index), out);
    }
}

void TrialRunner::run(const Step& step)
{
    if (const auto* input = std::get_if<DrawInput>(&step))
        return draw(*input);
    if (const auto* group = std::get_if<DrawGroup>(&step))
        return draw(*group);
    if (const auto* calculate = std::get_if<Calculate>(&step)) {
        const auto operand = [this](const Calculate::Source& source) {
            return source.is_constant ? BlockOperand{nullptr, source.constant}
                                      : BlockOperand{at(source.buffer), 0.0};
        };
        if (calculate->is_binary)
            kernels_->binary(calculate->operation, operand(calculate->left), operand(calculate->right),
                             at(calculate->out));
        else
            kernels_->unary(calculate->operation, at(calculate->left.buffer), at(calculate->out));
        return;
    }
    const auto& call = std::get<CallEstimator>(step);
    arguments_.clear();
    outputs_.clear();
    for (const auto argument : call.arguments)
        arguments_.push_back(at(argument));
    for (const auto output : call.outputs)
        outputs_.push_back(at(output));
    call.estimator->evaluate_trials(arguments_, outputs_, chunk_trials);
}

}  // namespace luxdossier::uncertainty
