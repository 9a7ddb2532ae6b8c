// What the load gives off, where it stands, and gas led through water.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/physics/moisture.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace athanor::elaborate {

using timeline::ActionKind;

void Elaborator::gas_from_load(const check::Recipe::Evolves& e) {
    Index line = none;
    if (e.while_open.name != 0) {
        frame = &recipe_frame;
        line = line_of(e.while_open);
        if (line == none) return; // it was reported
    }
    const std::size_t known = t->evolved.size();
    for (auto [part, share] : model.gases[e.gas].parts) {
        const Index species = species_named(model.gases[part].name);
        t->evolved.push_back({species, e.flow.hi * share.hi, line, e.above});
    }
    if (t->evolved.size() > timeline::most_evolved && known <= timeline::most_evolved)
        out.error(Code::too_large, e.span,
                  fmt::format("a load gives off {} gases at most", timeline::most_evolved));
}

void Elaborator::bubbler_and_slide() {
    if (rig->bubbler.present) {
        t->bubbler = {rig->bubbler.output, true, false};
        for (Index l = 0; l < rig->lines.size(); ++l)
            if (rig->lines[l].name == rig->bubbler.line) t->bubbler_line = l;
    }
    if (!rig->slide.present) return;
    t->slide = {rig->slide.output, true, false};
    const double centre = 0.5 * rig->tube.length.value.middle(), half = 0.5 * rig->furnace.heated_length.lo();
    for (const auto& [name, at] : rig->slide.places)
        t->places.push_back({name, at.lo() >= centre - half && at.hi() <= centre + half});
}

/// The line is led past its bath again.
void Elaborator::dry(Index line) {
    if (line != t->bubbler_line || !now.bubbler) return;
    now.bubbler = false;
    now.bath = 0;
}

/// K, as the statement says and the bubbler of the line can.
bool Elaborator::bath_asked(const Statement& s, Index line, double& bath) {
    const check::Bubbler& bubbler = rig->bubbler;
    const std::string& name = rig->lines[line].name;
    if (!bubbler.present || line != t->bubbler_line) {
        if (Diagnostic* d =
                error(Code::rig_inconsistent, s.span,
                      bubbler.present ? fmt::format("the bubbler of rig `{}` is in line `{}`, not in `{}`",
                                                    rig->name, bubbler.line, name)
                                      : fmt::format("rig `{}` has no bubbler", rig->name)))
            d->cause(fmt::format("it is declared at {}", place(bubbler.present ? bubbler.source : rig->source)))
                .remedy(fmt::format(
                    "declare it in the rig: `bubbler {{ line {} ; output 7 ; at 20 degC to 60 degC }}`", name));
        return false;
    }
    const Clause* at = model.clause(s, ClauseKind::at);
    if (at == nullptr) {
        if (Diagnostic* d = error(Code::value_missing, s.span, "this step does not say how warm the bath is"))
            d->cause(fmt::format("it can be set to {} ({})", to_text(bubbler.range.value, Kind::temperature),
                                 place(bubbler.source)))
                .remedy(fmt::format("humidify {} at {}", name,
                                    to_text(bubbler.range.value.middle(), Kind::temperature, 3)));
        return false;
    }
    if (!number(at->expr, bath)) return false;
    if (bath < bubbler.range.lo() || bath > bubbler.range.hi()) {
        if (Diagnostic* d =
                error(Code::rig_inconsistent, span_of(at->expr),
                      fmt::format("the bath cannot be set to {}", to_text(bath, Kind::temperature))))
            d->cause(fmt::format("its range is {} ({})", to_text(bubbler.range.value, Kind::temperature),
                                 place(bubbler.source)));
        return false;
    }
    return true;
}

/// Does gas flow, and at a pressure at which its share of water is known?
bool Elaborator::bath_in_use(const Statement& s, Index line, double bath, athanor::Span at) {
    if (!now.open[line]) {
        if (Diagnostic* d =
                error(Code::misplaced, s.span,
                      fmt::format("`{}` is shut here: no gas goes through the bath", rig->lines[line].name)))
            d->remedy(fmt::format("open {} before it", rig->lines[line].name));
        return false;
    }
    // The share of water is reckoned for the room's pressure and more.
    constexpr double rounding = 1e-9;
    const double ambient = rig->ambient_pressure.lo(), lowest = blind ? ambient : here.pressure.lo;
    if (now.pump || lowest < ambient * (1 - rounding)) {
        const bool evacuated = now.pump || lowest < ambient - plant::evacuated_below;
        if (Diagnostic* d =
                error(Code::misplaced, s.span,
                      evacuated ? std::string("gas is led through water into an evacuated tube")
                                : fmt::format("gas is led through water into a tube that may stand at "
                                              "{}, below the room",
                                              to_text(lowest, Kind::pressure))))
            d->cause(evacuated ? "at low pressure the bath boils: how much water comes over is not known"
                               : "below the room's pressure more water comes over than is reckoned with")
                .remedy("fill the tube to ambient before it");
        return false;
    }
    if (const double vapour = physics::saturation_pressure(bath + rig->bubbler.bath_error.hi());
        vapour > 0.9 * ambient) {
        if (Diagnostic* d = error(Code::rig_inconsistent, at,
                                  fmt::format("at {} the bath may boil", to_text(bath, Kind::temperature))))
            d->cause(fmt::format("its vapour may reach {}, the room's air {}",
                                 to_text(vapour, Kind::pressure, 3), to_text(ambient, Kind::pressure, 3)));
        return false;
    }
    return true;
}

void Elaborator::humidify(const Statement& s) {
    const Index line = s.names != 0 ? line_of(model.names_used[s.first_name]) : none;
    double bath = 0;
    if (line == none || !bath_asked(s, line, bath)) return void(blind = true);
    const athanor::Span at = span_of(model.clause(s, ClauseKind::at)->expr);
    if (!bath_in_use(s, line, bath, at)) return void(blind = true);
    set_bath(s, bath, at);
    now.bubbler = true;
    now.bath = bath;
    commit(ActionKind::humidify, s, line, bath);
}

/// The bath is filled and warm before the start. Another temperature takes it an hour or more, and a person who
/// is told: in the last wait since gas went through it.
void Elaborator::set_bath(const Statement& s, double bath, athanor::Span at) {
    if (survey) return;
    const double before = std::exchange(bath_set, bath);
    const athanor::Span set_at = std::exchange(bath_span, shown(at));
    if (!(before > 0) || std::fabs(before - bath) < 0.01) return;
    const auto wet = [&](const timeline::Span& span) { return t->states[span.state].bubbler; };
    for (auto span = t->spans.rbegin(); span != t->spans.rend() && !wet(*span); ++span) {
        if (span->ending.kind != timeline::EndingKind::person) continue;
        const std::string told =
            span->ending.text < t->texts.size() ? t->texts[span->ending.text] : std::string();
        span->ending.text =
            text_index(fmt::format("{}{}bring the bubbler's bath to {} and wait until it is there", told,
                                   told.empty() ? "" : "; ", to_text(bath, Kind::temperature)));
        return;
    }
    if (Diagnostic* d =
            error(Code::bath_changed, at,
                  fmt::format("the bubbler's bath is at {} here and at {} before, and nobody is waited for "
                              "in between",
                              to_text(bath, Kind::temperature), to_text(before, Kind::temperature))))
        d->also(set_at, "it is there first")
            .cause("a person sets the bath; a water bath takes an hour or more to another temperature")
            .remedy(rewritten(s, at, to_text(before, Kind::temperature)))
            .remedy(fmt::format(
                "or, with `{0}` opened anew (its gas then passes the bath by), before it: wait for operator "
                "\"Another bath\"",
                rig->bubbler.line));
}

/// `move sample to PLACE`.
void Elaborator::move(const Statement& s) {
    if (!rig->slide.present) {
        if (Diagnostic* d = error(Code::rig_inconsistent, s.span,
                                  fmt::format("rig `{}` has no slide to move the sample with", rig->name)))
            d->cause(fmt::format("the rig is declared at {}", place(rig->source)))
                .remedy("declare it in the rig: `slide { output 6 ; out 0 mm ; hot 450 mm }`")
                .remedy("or let a person move it: `wait for operator \"…\"`");
        return void(blind = true);
    }
    if (s.names == 0) return;
    const NameRef& to = model.names_used[s.first_name + s.names - 1];
    Index found = none;
    std::string known;
    for (Index i = 0; i < t->places.size(); ++i) {
        known += (known.empty() ? "`" : ", `") + t->places[i].name + "`";
        if (t->places[i].name == text_of(to)) found = i;
    }
    if (found == none) {
        if (Diagnostic* d =
                error(Code::unknown_name, to.span,
                      fmt::format("the slide of rig `{}` has no place `{}`", rig->name, text_of(to))))
            d->cause(fmt::format("it has {} ({})", known, place(rig->slide.source)));
        return void(blind = true);
    }
    if (rig->slide.output != 0 && t->places.size() > 2) {
        if (Diagnostic* d =
                error(Code::rig_inconsistent, s.span,
                      fmt::format("one output tells two places apart, and the slide has {}", t->places.size())))
            d->cause(fmt::format("it has {} ({})", known, place(rig->slide.source)))
                .remedy("`slide hand { … }` for more than two places");
        return void(blind = true);
    }
    now.place = found;
    now.slide = rig->slide.output != 0 && found == 1; // without power at the place that is named first
    commit(ActionKind::move, s, none, 0,
           text_index(fmt::format("move the sample to {}{}", t->places[found].name,
                                  rig->slide.output == 0 ? " by hand" : "")));
}

} // namespace athanor::elaborate
