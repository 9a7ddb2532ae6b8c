// Walks a run and the timeline that was proven side by side, instant by instant.
#include "compiler/replay/outputs.hpp"
#include "compiler/replay/person.hpp"
#include "compiler/replay/replay.hpp"
#include "compiler/replay/stretch.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

namespace athanor::replay {
namespace {

using timeline::EndingKind;
using timeline::LawKind;

constexpr double alike_K = 1e-5;
constexpr double alike_s = 1e-3; // far below any grid; what thousands of sums of doubles may lose

class Exact {
public:
    Exact(const Run& run, const timeline::Timeline& proven, const program::Program& program, bool hands)
        : run_(run), proven_(proven), program_(program), outputs_(proven, program) {
        if (hands) hands_.emplace(proven, program, run);
    }

    std::vector<Finding> differences() {
        while (!difference_) {
            while (at_ < proven_.spans.size() && empty_span()) ++at_, jumped_ = false;
            while (more() && (passed_start() || empty(stretch()))) ++now_;
            if (!more() && at_ == proven_.spans.size()) break;
            if (!more()) {
                say_at_end("what was proven goes on");
            } else if (at_ == proven_.spans.size()) {
                say("what was proven has ended");
            } else {
                step();
            }
        }
        if (!difference_ && program_.controller.holds_at_end)
            for (std::string& text : outputs_.end_differences(run_, proven_.states[proven_.end_state]))
                say_at_end(std::move(text));
        if (!difference_ && hands_)
            for (std::string& text : hands_->end_differences(proven_.states[proven_.end_state]))
                say_at_end(std::move(text));
        if (!difference_) return {};
        return {*difference_};
    }

private:
    bool more() const { return now_ < run_.stretches.size(); }
    const Stretch& stretch() const { return run_.stretches[now_]; }
    const timeline::Span& span() const { return proven_.spans[at_]; }
    const timeline::Law& law(std::size_t zone) const { return proven_.laws_of(at_)[zone]; }
    std::size_t zones() const { return proven_.zones.size(); }
    double band() const { return span().ending.kind == EndingKind::band ? span().ending.band : 0; }
    void say(std::string text) { // of the stretch that runs
        if (!difference_) difference_ = Finding{stretch().row(), std::move(text)};
    }
    void say_at_end(const std::string& text) {
        if (!difference_) difference_ = Finding{{0, 0}, "end of the table: " + text};
    }

    bool any(LawKind kind) const {
        const timeline::Law* laws = proven_.laws_of(at_);
        return std::any_of(laws, laws + zones(), [&](const timeline::Law& l) { return l.kind == kind; });
    }
    bool moves_at_once() const {
        bool moves = any(LawKind::jump);
        for (std::size_t z = 0; z < zones(); ++z)
            moves = moves || (law(z).kind == LawKind::off && std::abs(law(z).from - law(z).to) > alike_K);
        return moves;
    }
    bool empty_span() const {
        if (span().ending.kind == EndingKind::person || span().ending.kind == EndingKind::passes) return false;
        if (!jumped_ && moves_at_once()) return false;
        if (span().ending.duration - used_span_ >= alike_s) return false;
        const bool own = more() && waits_in(stretch()) && shows_state();
        return band() == 0 || (!own && in_band_already());
    }
    /// A row of another state is that of a later span, though it waits in the same band.
    bool shows_state() const {
        const auto [low, high] = led(run_, now_, program_.controller, proven_.laws_of(at_));
        return outputs_.equal(stretch(), proven_.states[span().state], low, high) &&
               (!hands_ || hands_->differences(run_, now_, proven_.states[span().state]).empty());
    }
    bool waits_in(const Stretch& s) const {
        return s.kind == Stretch::Kind::hold && std::abs(s.band_K - band()) <= 1e-9;
    }
    /// What ran last has waited at the span's set-point in a band as narrow: nothing is left to wait for.
    bool in_band_already() const {
        const Stretch* last = waited_last(run_, now_, used_);
        if (last == nullptr || last->band_K > band() + 1e-9) return false;
        for (std::size_t z = 0; z < zones(); ++z)
            if (std::abs(last->to_degC[z] + zero_celsius - law(z).to) > alike_K) return false;
        return true;
    }
    static bool empty(const Stretch& s) {
        const bool timed = s.kind == Stretch::Kind::hold || s.kind == Stretch::Kind::line;
        return timed && s.duration_s == 0 && s.band_K == 0;
    }
    /// A controller that starts from a set-point of its own is first brought to the recipe's; a later run may
    /// be started by a person of whom the recipe says nothing.
    bool passed_start() const {
        const bool idle = at_ >= proven_.spans.size() || used_span_ > 0 || jumped_ || !moves_at_once();
        if (from_own_start(run_, now_, program_.controller)) return idle;
        return stretch().between && at_ < proven_.spans.size() && span().ending.kind != EndingKind::person &&
               used_span_ == 0;
    }

    void step() {
        const Stretch& s = stretch();
        const bool person = span().ending.kind == EndingKind::person;
        if (person != (s.kind == Stretch::Kind::person))
            return say(person ? "what was proven waits for a person"
                              : "it waits for a person, what was proven does not");
        if (person) {
            same_outputs();
            next_stretch();
            return next_span();
        }
        if (moves_at_once() && !jumped_) return jump();
        // A step to where the set-point is already moves nothing: it is only the wait behind it.
        if (s.kind == Stretch::Kind::jump && !jumped_ && in_place(s) && any(LawKind::off)) return jump();
        if (s.kind == Stretch::Kind::jump) return say("it steps, what was proven does not");
        timed();
    }

    static bool in_place(const Stretch& s) {
        for (std::size_t z = 0; z < s.from_degC.size(); ++z)
            if (std::abs(s.from_degC[z] - s.to_degC[z]) > alike_K) return false;
        return true;
    }

    void jump() {
        const Stretch& s = stretch();
        if (s.kind != Stretch::Kind::jump) return say("what was proven steps here");
        same_outputs();
        for (std::size_t z = 0; z < zones(); ++z)
            if (std::abs(s.to_degC[z] + zero_celsius - law(z).to) > alike_K)
                say(fmt::format("it steps to {:g} degC, {:g} degC was proven", s.to_degC[z],
                                law(z).to - zero_celsius));
        const bool passes = span().ending.kind == EndingKind::passes;
        const double wanted = passes ? last_crossing() : band();
        const bool waits = s.band_K > 0;
        // Where a dwell in the band follows, the step's wait is the beginning of it.
        const bool shared = waits && wanted == 0 && next_hold_has(s.band_K);
        if (!shared && std::abs(s.band_K - wanted) > alike_K)
            say(fmt::format("it waits within {:g} K of {:g} degC, {:g} K was proven", s.band_K, s.to_degC[0],
                            wanted));
        next_stretch();
        if (passes) {
            // Coolings that go on below are one step.
            const timeline::Law first = law(0);
            next_span();
            while (at_ < proven_.spans.size() && span().ending.kind == EndingKind::passes &&
                   any(LawKind::off) && std::abs(law(0).to - first.to) < alike_K && !moves_at_once())
                next_span();
        } else {
            jumped_ = true;
            counted_ = waits && !shared;
        }
    }
    /// K above the target at which a cooling that ends by itself is over: of the last of those in one step.
    double last_crossing() const {
        std::size_t last = at_;
        while (last + 1 < proven_.spans.size() && proven_.spans[last + 1].ending.kind == EndingKind::passes &&
               proven_.laws_of(last + 1)[0].kind == LawKind::off &&
               std::abs(proven_.laws_of(last + 1)[0].from - proven_.laws_of(last + 1)[0].to) <= alike_K)
            ++last;
        double above = 0;
        for (std::size_t z = 0; z < zones(); ++z)
            if (law(z).kind == LawKind::off) above = proven_.spans[last].ending.temperature - law(z).to;
        return above;
    }
    bool next_hold_has(double kelvin) const {
        for (std::size_t i = at_ + 1; i < proven_.spans.size(); ++i) {
            const timeline::Ending& e = proven_.spans[i].ending;
            if (e.kind == EndingKind::band) return std::abs(e.band - kelvin) <= 1e-9;
            if (e.kind != EndingKind::fixed || e.duration > alike_s) return false;
        }
        return false;
    }

    void timed() {
        const Stretch& s = stretch();
        const double left = s.duration_s - used_;
        const double due = span().ending.duration - used_span_;
        const double both = std::min(left, due);
        same_outputs();
        for (std::size_t z = 0; z < zones(); ++z)
            for (const double t : {0.0, both}) {
                const double have = keyed(s, z, used_ + t);
                const double want = wanted(z, used_span_ + t);
                if (std::abs(have - want) > alike_K)
                    return say(fmt::format("its set-point is {:.6g} degC where {:.6g} degC was proven",
                                           have - zero_celsius, want - zero_celsius));
            }
        used_ += both;
        used_span_ += both;
        const bool stretch_ends = s.duration_s - used_ < alike_s;
        const bool span_ends = span().ending.duration - used_span_ < alike_s;
        // A hold waits in its band from its beginning, a line at its end.
        const bool hold = s.kind == Stretch::Kind::hold;
        if (hold && std::abs(s.band_K - band()) > 1e-9 && !(counted_ && s.band_K == 0))
            return say(fmt::format("it waits within {:g} K, {:g} K was proven", s.band_K, band()));
        if (!hold && stretch_ends && std::abs(s.band_K - (span_ends ? band() : 0)) > 1e-9)
            return say(fmt::format("it waits within {:g} K at its end, {:g} K was proven", s.band_K,
                                   span_ends ? band() : 0));
        if (!hold && !stretch_ends && span_ends && band() > 0)
            return say(fmt::format("a wait within {:g} K was proven on the way", band()));
        if (stretch_ends) next_stretch();
        if (span_ends) next_span();
    }

    double wanted(std::size_t z, double t) const {
        const timeline::Law& l = law(z);
        if (l.kind != LawKind::line || !(span().ending.duration > 0)) return l.to;
        return l.from + (l.to - l.from) * std::min(1.0, t / span().ending.duration);
    }

    void same_outputs() {
        const Stretch& s = stretch();
        if (hands_)
            for (std::string& text : hands_->differences(run_, now_, proven_.states[span().state]))
                say(std::move(text));
        if (s.between && now_ == 0) return; // the rig stands as people left it
        const auto [low, high] = led(run_, now_, program_.controller, proven_.laws_of(at_));
        for (std::string& text : outputs_.differences(s, proven_.states[span().state], low, high))
            say(std::move(text));
    }

    void next_stretch() {
        ++now_;
        used_ = 0;
    }
    void next_span() {
        ++at_;
        used_span_ = 0;
        jumped_ = counted_ = false;
    }

    const Run& run_;
    const timeline::Timeline& proven_;
    const program::Program& program_;
    Outputs outputs_;
    std::optional<Hands> hands_;
    std::size_t now_ = 0, at_ = 0;    // stretch, span
    double used_ = 0, used_span_ = 0; // s of each that are over
    bool jumped_ = false;             // the span's step is done
    bool counted_ = false;            // the step waited in the span's band
    std::optional<Finding> difference_;
};

} // namespace

std::vector<Finding> compare_exactly(const Run& run, const timeline::Timeline& proven,
                                     const program::Program& program, bool hands) {
    if (!run.problems.empty()) return {{{0, 0}, "the controller cannot run this table"}};
    if (!run.stretches.empty() && run.stretches[0].from_degC.size() != proven.zones.size())
        return {{{0, 0}, "the table drives another number of zones"}};
    return Exact(run, proven, program, hands).differences();
}

} // namespace athanor::replay
