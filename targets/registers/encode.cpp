#include "targets/registers/registers.hpp"

#include "targets/layout/render.hpp"
#include "targets/words.hpp"

#include <cmath>
#include <map>

#include <fmt/format.h>

namespace athanor::targets::registers {
namespace {

using layout::Measure;
using program::Segment;

class Encoder {
public:
    Encoder(const Map& map, const program::Program& program, std::vector<Loss>& losses)
        : map_(map), program_(program), losses_(losses) {}

    std::vector<Write> run() {
        const Register* enable = map_.find(What::enable);
        const Register* count = map_.find(What::segments);
        if (!enable) return {};
        code(*enable, enable->address, enable->off, "shut off: no stored programme may be started");
        for (const program::Part& part : program_.parts)
            if (count)
                code(*count, address(map_, *count, part.number, 0), 0,
                     fmt::format("programme {} holds nothing yet", part.number));
        for (const program::Part& part : program_.parts) programme(part);
        for (const program::Part& part : program_.parts)
            if (count)
                code(*count, address(map_, *count, part.number, 0),
                     static_cast<std::int64_t>(part.segments.size()),
                     fmt::format("programme {} holds {} segments, its end included", part.number,
                                 part.segments.size()));
        code(*enable, enable->address, enable->on, "the programmes may be started");
        return std::move(list_);
    }

private:
    void lose(const Register& reg, Code code, std::string message) {
        for (const Loss& loss : losses_)
            if (loss.span.begin == reg.span.begin) return; // once for each register
        losses_.push_back({code, reg.span, std::move(message)});
    }

    void put(const Register& reg, std::uint32_t address, double value, const std::string& meaning) {
        std::vector<std::uint16_t> packed = pack(map_, reg.type, value);
        for (std::size_t i = 0; i < packed.size(); ++i) {
            std::uint32_t at = address + static_cast<std::uint32_t>(i);
            if (at > 65535)
                return lose(reg, Code::value_not_settable,
                            fmt::format("{} would stand at address {}; the last one is 65535", meaning, at));
            auto [owner, first] = owners_.try_emplace(at, std::pair{&reg, address});
            if (!first && owner->second != std::pair{&reg, address})
                return lose(
                    reg, Code::duplicate_name,
                    fmt::format("address {} holds register {} and register {}: the strides are too short, "
                                "or two addresses are the same",
                                at, name(owner->second.first->what), name(reg.what)));
            list_.push_back({static_cast<std::uint16_t>(at), packed[i], meaning});
        }
    }

    /// A code or a count.
    void code(const Register& reg, std::uint32_t address, std::int64_t value, const std::string& meaning) {
        auto [lo, hi] = range(reg.type);
        if (value < lo || value > hi)
            return lose(reg, Code::value_not_settable,
                        fmt::format("register {} ({}) takes {} to {}; needed is {}: {}", name(reg.what),
                                    name(reg.type), lo, hi, value, meaning));
        put(reg, address, static_cast<double>(value), meaning);
    }

    /// A figure on one of the controller's grids, or nothing.
    void figure(const Register& reg, std::uint32_t address, std::optional<Decimal> value, bool may_be_none,
                const std::string& meaning) {
        if (!value) return code(reg, address, reg.none, meaning + ": none");
        std::string_view unit = table_unit(reg.measure);
        std::string said = fmt::format("{}: {} {}", meaning, value->text(), unit);
        double step = reg.scale.step->value();
        double exact = (value->value() * static_cast<double>(reg.scale.denominator) /
                            static_cast<double>(reg.scale.numerator) +
                        reg.scale.offset.value()) /
                       step;
        if (reg.type == Type::float32) {
            if (may_be_none && static_cast<float>(exact) == static_cast<float>(reg.none))
                return lose(reg, Code::layout_loses, stands_for_none(reg, said));
            return put(reg, address, exact, said);
        }
        auto [lo, hi] = range(reg.type);
        if (exact < static_cast<double>(lo) - 0.5 || exact > static_cast<double>(hi) + 0.5)
            return lose(reg, Code::value_not_settable,
                        fmt::format("register {} ({} in {} {}) takes {:g} {} to {:g} {}; needed is {}",
                                    name(reg.what), name(reg.type), reg.scale.step->text(), reg.scale.unit,
                                    static_cast<double>(lo) * step, reg.scale.unit,
                                    static_cast<double>(hi) * step, reg.scale.unit, said));
        std::optional<std::int64_t> count = layout::steps(reg.scale, *value);
        if (!count)
            return lose(reg, Code::layout_loses,
                        fmt::format("register {} cannot hold {}: it is no multiple of {} {}", name(reg.what),
                                    said, reg.scale.step->text(), reg.scale.unit));
        if (may_be_none && *count == reg.none) return lose(reg, Code::layout_loses, stands_for_none(reg, said));
        code(reg, address, *count, said);
    }

    static std::string stands_for_none(const Register& reg, const std::string& said) {
        return fmt::format("register {} would hold {} as {}, which stands for nothing: give it another `none`",
                           name(reg.what), said, reg.none);
    }

    void programme(const program::Part& part) {
        for (const Register& reg : map_.registers) {
            std::string of = fmt::format("programme {}, {}", part.number, name(reg.what));
            std::uint32_t at = address(map_, reg, part.number, 0);
            const program::ThresholdOutput* threshold = part.thresholds.empty() ? nullptr : &part.thresholds[0];
            switch (reg.what) {
            case What::next: code(reg, at, part.next == 0 ? reg.none : part.next, of); break;
            case What::threshold_output: code(reg, at, threshold ? threshold->output : reg.none, of); break;
            case What::threshold_above:
                code(reg, at, threshold && threshold->energised_above ? 1 : 0, of);
                break;
            case What::threshold_temperature:
                figure(reg, at,
                       threshold ? std::optional(program_.controller.setpoint.decimal(threshold->temperature))
                                 : std::nullopt,
                       false, of);
                break;
            default: break;
            }
        }
        for (std::size_t i = 0; i < part.segments.size(); ++i)
            for (const Register& reg : map_.registers)
                if (reg.what >= What::kind) segment(reg, part, i);
    }

    void segment(const Register& reg, const program::Part& part, std::size_t index) {
        const Segment& s = part.segments[index];
        const program::Controller& c = program_.controller;
        std::string of = fmt::format("programme {}, segment {}, {}", part.number, index + 1, name(reg.what));
        const std::uint32_t at = address(map_, reg, part.number, index);
        std::size_t place = 0;
        if (!reg.of.empty()) {
            of += " of " + reg.of[0];
            std::optional<std::size_t> found = layout::index_of(names_of(reg.what), reg.of[0], program_);
            // A zone, output or channel that this recipe never needs.
            if (!found && reg.what != What::outputs)
                return code(reg, at, reg.what == What::output ? 0 : reg.none, of);
            place = found.value_or(0);
        }
        using Kind = program::SegmentKind;
        const bool ramp = s.kind == Kind::ramp || s.kind == Kind::ramp_dwell;
        const bool still = s.kind == Kind::end || s.kind == Kind::operator_wait;
        switch (reg.what) {
        case What::kind: return kind(reg, at, s, of);
        case What::target: return figure(reg, at, on(c.setpoint, s.targets, place), still, of);
        case What::rate:
            return figure(reg, at, on(c.rate, s.rates, place), ramp && map_.find(What::ramp_time), of);
        case What::ramp_time:
            return figure(reg, at, on(c.ramp_time, s.ramp_time), ramp && map_.find(What::rate), of);
        case What::dwell: return figure(reg, at, on(c.dwell, s.dwell), s.kind == Kind::step, of);
        case What::soak_band: return figure(reg, at, on(c.soak_band, s.band), true, of);
        case What::output: return code(reg, at, energised(s, place) ? 1 : 0, of);
        case What::outputs: return bits(reg, at, s, of);
        case What::channel:
            return figure(reg, at,
                          place < s.channels.size() ? std::optional(Decimal{s.channels[place], -3})
                                                    : std::nullopt,
                          false, of);
        case What::loop_start:
        case What::loop_passes: return loop(reg, at, part, index, of);
        default: return;
        }
    }

    /// A settable value in figures; nothing where none is keyed, or the controller has no such setting.
    static std::optional<Decimal> on(const std::optional<Grid>& grid, std::int64_t k) {
        return grid && k >= 0 ? std::optional(grid->decimal(k)) : std::nullopt;
    }
    template<class List>
    static std::optional<Decimal> on(const std::optional<Grid>& grid, const List& list, std::size_t place) {
        return place < list.size() ? on(grid, list[place]) : std::nullopt;
    }

    bool energised(const Segment& s, std::size_t output) const {
        return (s.outputs >> (program_.outputs[output].number - 1) & 1U) != 0;
    }

    void kind(const Register& reg, std::uint32_t at, const Segment& s, const std::string& of) {
        const std::string_view kind = word(s.kind);
        for (const auto& [name, value] : map_.kinds)
            if (name == kind) return code(reg, at, value, fmt::format("{}: {}", of, kind));
        lose(reg, Code::layout_loses, fmt::format("`kinds` has no {}: {}", kind, of));
    }

    void bits(const Register& reg, std::uint32_t at, const Segment& s, const std::string& of) {
        std::int64_t bits = 0;
        for (std::size_t i = 0; i < reg.of.size() && i < 32; ++i)
            if (auto found = layout::index_of(sheet::Field::output, reg.of[i], program_))
                if (energised(s, *found)) bits |= std::int64_t{1} << i;
        code(reg, at, bits, of);
    }

    void loop(const Register& reg, std::uint32_t at, const program::Part& part, std::size_t index,
              const std::string& of) {
        std::int64_t value = reg.none;
        int found = 0;
        for (const program::Loop& loop : part.loops)
            if (loop.last == index) {
                value = reg.what == What::loop_start ? loop.first + 1 : loop.passes;
                ++found;
            }
        if (found > 1)
            return lose(reg, Code::layout_loses, fmt::format("two loops end at one segment: {}", of));
        code(reg, at, value, of);
    }

    const Map& map_;
    const program::Program& program_;
    std::vector<Loss>& losses_;
    std::vector<Write> list_;
    std::map<std::uint32_t, std::pair<const Register*, std::uint32_t>> owners_;
};

} // namespace

std::vector<Write> writes(const Map& map, const program::Program& program, std::vector<Loss>& losses) {
    return Encoder(map, program, losses).run();
}

} // namespace athanor::targets::registers
