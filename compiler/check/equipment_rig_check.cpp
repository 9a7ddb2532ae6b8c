#include "compiler/check/equipment_readers.hpp"
#include "compiler/physics/heat.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <fmt/format.h>
#include <map>

namespace athanor::check {

namespace {

/// Pa that a room may have. The standard atmosphere is at 505 mbar 5,500 m up, above every town (ISO 2533, from
/// memory); the highest pressure recorded at sea level is about 1085 mbar (World Meteorological Organization,
/// from memory).
constexpr double least_room = 50000, most_room = 110000;

class RigCheck {
public:
    RigCheck(const Reading& reading, const Rig& rig, bool broken) : r_(reading), rig_(rig), broken_(broken) {}

    void run() {
        room();
        lengths();
        tube();
        furnace_rows();
        outputs();
        gas_tightness();
        exhaust();
        if (rig_.has_throttle && !rig_.pump.present)
            error(rig_.source,
                  fmt::format("rig `{}` has a throttle and no pump to hold a low pressure against", rig_.name))
                .remedy("declare the pump, or leave the throttle out");
        slide();
    }

private:
    Diagnostic& error(athanor::Span span, std::string message) {
        return r_.out().error(Code::rig_inconsistent, span, std::move(message));
    }

    static std::string text(double si, Kind kind) { return to_text(si, kind); }

    /// `smaller` must not exceed `larger`.
    void fits_in(const Figure& smaller, std::string_view what, const Figure& larger, std::string_view whole) {
        if (!smaller.given || !larger.given || smaller.hi() <= larger.lo()) return;
        error(smaller.source,
              fmt::format("{}, {}, is longer than {}, {}", what, text(smaller.hi(), Kind::length), whole,
                          text(larger.lo(), Kind::length)))
            .also(larger.source, std::string(whole));
    }

    void implausible(const Figure& figure, std::string message, std::string remedy) {
        r_.out().error(Code::implausible_value, figure.source, std::move(message)).remedy(std::move(remedy));
    }

    void room() {
        const Figure& p = rig_.ambient_pressure;
        if (p.given && (p.lo() < least_room || p.hi() > most_room)) {
            const bool mbar = p.lo() * 100 >= least_room && p.hi() * 100 <= most_room;
            implausible(
                p,
                fmt::format("a room at {} lies nowhere that furnaces stand: {} to {}",
                            to_text(p.value, Kind::pressure), text(least_room, Kind::pressure),
                            text(most_room, Kind::pressure)),
                mbar ? fmt::format("perhaps `{} mbar to {} mbar`", shortest(p.lo()), shortest(p.hi()))
                     : "give the range of the local barometer, not reduced to sea level, for example `960 "
                       "mbar to 1035 mbar`");
        }
        const Figure& leak = rig_.leak_rate;
        if (leak.given && !leak.defaulted && leak.hi() <= 0)
            implausible(
                leak, "no tube is without a leak, and none can be measured as 0",
                "give the least that the rate-of-rise test could have shown, for example `leak_rate 1e-5 "
                "mbar*L/s`");
    }

    /// What a material keeps silent about counts as unknown, not as harmless.
    void tube() {
        const Tube& tube = rig_.tube;
        if (tube.material == none || tube.material >= r_.model.materials.size()) return;
        const Material& m = r_.model.materials[tube.material];
        if (m.broken) return;
        if (rig_.pump.present && !m.limit_vacuum.given)
            error(tube.source,
                  fmt::format("the tube of rig `{}` is evacuated, and `{}` does not say how hot it may "
                              "then be",
                              rig_.name, m.name))
                .also(m.source, "the material")
                .remedy("declare its `limit_vacuum`, from the data sheet of the material");
        if (m.rates.empty())
            r_.out()
                .warning(
                    Code::rig_inconsistent, tube.source,
                    fmt::format("material `{}` gives no `rate`, so that no ramp is judged for thermal shock",
                                m.name))
                .also(m.source, "the material")
                .remedy("declare its `rate`, from the data sheet of the material");
        if (!m.strength.given || !tube.inner_diameter.given || !tube.wall.given || tube.wall.lo() <= 0) return;
        // The greatest overpressure that the rig lets come about: what opens first.
        double over = usual_pressure;
        const Figure* by = nullptr;
        if (rig_.seals.gas_tight && rig_.seals.rated.given)
            over = rig_.seals.rated.hi(), by = &rig_.seals.rated;
        if (rig_.relief.given && (by == nullptr || rig_.relief.hi() * relief_passes < over))
            over = rig_.relief.hi() * relief_passes, by = &rig_.relief;
        const double outer = tube.inner_diameter.hi() + 2 * tube.wall.lo();
        const double stress = physics::hoop_stress_inside(outer, tube.wall.lo(), over);
        if (stress <= m.strength.lo()) return;
        Diagnostic& d =
            error(tube.wall.source,
                  fmt::format("{} of overpressure put {} on a wall of {}, more than the {} that `{}` stands",
                              text(over, Kind::pressure), text(stress, Kind::stress),
                              text(tube.wall.lo(), Kind::length), text(m.strength.lo(), Kind::stress), m.name));
        d.also(m.strength.source, "the strength");
        if (by != nullptr)
            d.also(by->source, by == &rig_.relief ? "the relief, and a tenth" : "rating of the seals");
        d.remedy("measure the wall: 2 to 5 mm are usual for tubes of this kind");
    }

    void lengths() {
        const Tube& tube = rig_.tube;
        fits_in(rig_.furnace.heated_length, "the heated length", tube.length, "the tube");
        fits_in(rig_.uniform_length, "the uniform length", rig_.furnace.heated_length, "the heated length");
        if (rig_.ends.kind != EndsKind::insulation_plugs || !rig_.ends.length.given || !tube.length.given ||
            !rig_.furnace.heated_length.given)
            return;
        const double left = tube.length.lo() - 2 * rig_.ends.length.hi();
        if (left <= 0)
            error(rig_.ends.length.source,
                  fmt::format("two plugs of {} fill the tube of {}", text(rig_.ends.length.hi(), Kind::length),
                              text(tube.length.lo(), Kind::length)))
                .also(tube.length.source, "the tube");
        if (left <= 0) return;
        // The heated length stands in the middle: each plug has half of what is not heated.
        const double cold = (tube.length.lo() - rig_.furnace.heated_length.hi()) / 2;
        if (cold < 0 || rig_.ends.length.hi() <= cold * (1 + 1e-9)) return;
        error(rig_.ends.length.source,
              fmt::format(
                  "a plug of {} reaches into the heated length: {} of the tube are left beside it at each "
                  "end",
                  text(rig_.ends.length.hi(), Kind::length), text(cold, Kind::length)))
            .also(rig_.furnace.heated_length.source, "the heated length")
            .also(tube.length.source, "the tube");
    }

    void within_range(double temperature, std::string_view what, athanor::Span span) {
        const Figure& range = rig_.furnace.range;
        if (!range.given || temperature <= range.hi()) return;
        error(span, fmt::format("{} reaches {}, and the furnace's range ends at {}", what,
                                text(temperature, Kind::temperature), text(range.hi(), Kind::temperature)))
            .also(range.source, "the range");
    }

    void furnace_rows() {
        const Furnace& f = rig_.furnace;
        const double ambient = rig_.ambient_temperature.given ? rig_.ambient_temperature.hi() : 0;
        const auto above_ambient = [&](double temperature, std::string_view what, athanor::Span span) {
            if (temperature > ambient) return true;
            error(span, fmt::format("{} ends at {}, and the room may have {}", what,
                                    text(temperature, Kind::temperature), text(ambient, Kind::temperature)));
            return false;
        };
        for (const HeatUp& row : f.heat_up) {
            within_range(row.to, "heat_up", row.duration.source);
            above_ambient(row.to, "heat_up", row.duration.source);
        }
        for (const HoldingPower& row : f.holding_power) {
            within_range(row.at, "holding_power", row.power.source);
            if (f.power.given && row.power.lo() >= f.power.hi())
                error(row.power.source,
                      fmt::format("{} to hold {} are not less than the furnace's {}",
                                  text(row.power.lo(), Kind::power), text(row.at, Kind::temperature),
                                  text(f.power.hi(), Kind::power)))
                    .also(f.power.source, "nominal power");
            above_ambient(row.at, "holding_power", row.power.source);
        }
        for (const CoolDown& row : f.cool_down) {
            within_range(row.from, "cool_down", row.duration.source);
            if (row.from <= row.to)
                error(row.duration.source,
                      fmt::format("cool_down runs from {} to {}, which is no cooling",
                                  text(row.from, Kind::temperature), text(row.to, Kind::temperature)))
                    .remedy("write the hotter temperature first");
            else
                above_ambient(row.to, "cool_down", row.duration.source);
        }
    }

    struct Use {
        std::string what;
        athanor::Span span;
    };

    void outputs() {
        std::map<Index, Use> used, channels;
        const auto claim = [&](std::map<Index, Use>& taken, std::string_view kind, Index number,
                               std::string what, athanor::Span span) {
            if (number == 0 || number == none) return;
            const auto [old, fresh] = taken.try_emplace(number, Use{what, span});
            if (fresh) return;
            error(span, fmt::format("{} {} works both {} and {}", kind, number, old->second.what, what))
                .also(old->second.span, old->second.what)
                .remedy(fmt::format("give one of them another {}", kind));
        };
        for (const Line& line : rig_.lines) {
            claim(used, "output", line.output, fmt::format("line `{}`", line.name), line.source);
            claim(channels, "channel", line.meter.channel, fmt::format("line `{}`", line.name), line.source);
        }
        for (std::size_t b = 1; b < rig_.lines.size(); ++b)
            for (std::size_t a = 0; a < b; ++a)
                if (rig_.lines[a].name == rig_.lines[b].name)
                    r_.out()
                        .error(Code::duplicate_name, rig_.lines[b].source,
                               fmt::format("line `{}` is declared twice", rig_.lines[b].name))
                        .also(rig_.lines[a].source, "first declared here");
        claim(used, "output", rig_.pump.present ? rig_.pump.output : 0, "the pump", rig_.pump.source);
        claim(used, "output", rig_.exhaust.output, "the burner", rig_.exhaust.source);
        claim(used, "output", rig_.bubbler.output, "the bubbler", rig_.bubbler.source);
        claim(used, "output", rig_.slide.output, "the slide", rig_.slide.source);
    }

    void gas_tightness() {
        if (broken_) return;
        if (rig_.seals.gas_tight && !rig_.leak_rate.given)
            error(rig_.seals.source,
                  fmt::format("the seals of rig `{}` are gas-tight, and its leak is not stated", rig_.name))
                .remedy("measure the rise of pressure in the evacuated tube and add, for example, `leak_rate "
                        "1e-4 mbar*L/s`");
        if (rig_.relief.given && rig_.seals.gas_tight && rig_.seals.rated.given &&
            rig_.relief.lo() > rig_.seals.rated.hi())
            error(rig_.relief.source,
                  fmt::format("the relief opens at {}, above the {} that the seals are rated for",
                              text(rig_.relief.lo(), Kind::overpressure),
                              text(rig_.seals.rated.hi(), Kind::overpressure)))
                .also(rig_.seals.rated.source, "rating of the seals")
                .remedy("set the relief below the rating");
        for (const Line& line : rig_.lines)
            if (rig_.relief.given && line.supply.given && line.supply.hi() > rig_.relief.hi())
                r_.out()
                    .warning(Code::rig_inconsistent, line.supply.source,
                             fmt::format("the supply of line `{}`, {}, lies above the relief, {}: a blocked "
                                         "outlet blows gas through it",
                                         line.name, text(line.supply.hi(), Kind::overpressure),
                                         text(rig_.relief.hi(), Kind::overpressure)))
                    .also(rig_.relief.source, "the relief")
                    .remedy("regulate the supply below the relief");
    }

    void exhaust() {
        const Exhaust& burner = rig_.exhaust;
        if (burner.has_burner() && burner.output != 0 && !burner.pilot && burner.feed_open_without_power)
            error(burner.source,
                  "the burner's feed opens without power, and no pilot flame lights it: its gas flows "
                  "out unburnt")
                .remedy("let it fall closed, `de_energised closed`, or fit a pilot: `pilot yes`");
        if (rig_.exhaust.kind != ExhaustKind::shut || rig_.relief.given || rig_.lines.empty() ||
            rig_.pump.present)
            return;
        error(rig_.exhaust.source, fmt::format("gas flows into rig `{}` and nothing lets it out", rig_.name))
            .remedy("declare the exhaust, a pump, or a relief");
    }

    void slide() {
        if (!rig_.slide.present || broken_) return;
        if (rig_.slide.places.size() < 2)
            error(rig_.slide.source, "a slide has two places at least")
                .remedy("name them, for example `out 0 mm ; hot 450 mm`");
        for (const auto& [name, place] : rig_.slide.places)
            if (rig_.tube.length.given && place.hi() > rig_.tube.length.hi())
                error(place.source,
                      fmt::format("place `{}` of the slide, {}, lies beyond the tube of {}", name,
                                  text(place.hi(), Kind::length), text(rig_.tube.length.hi(), Kind::length)));
        if (rig_.slide.hand && rig_.slide.output != 0)
            error(rig_.slide.source, "a slide that is moved by hand has no output");
    }

    const Reading& r_;
    const Rig& rig_;
    bool broken_;
};

} // namespace

void check_rig(const Reading& reading, const Declared& declared, const Rig& rig) {
    RigCheck(reading, rig, declared.broken).run();
}

} // namespace athanor::check
