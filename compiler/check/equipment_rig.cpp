#include "compiler/check/equipment_readers.hpp"
#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>
#include <numbers>
#include <utility>

namespace athanor::check {

namespace {

bool says_yes(const Property* p) {
    return p != nullptr && !p->poison && p->match.has("yes");
}

/// A word in it that no property has may be meant for any.
bool misspelt(const Property& block) {
    return std::any_of(block.properties.begin(), block.properties.end(),
                       [](const Property& p) { return p.schema == nullptr; });
}

class RigReader {
public:
    RigReader(const Reading& reading, const Declared& declared)
        : r_(reading), d_(declared), root_(declared.root) {}

    Rig read() {
        rig_.name = d_.name;
        rig_.title = d_.title;
        rig_.source = d_.span;
        rig_.broken = d_.broken;
        surroundings();
        furnace();
        tube();
        zone_opening();
        ends();
        for (const Property& p : root_.properties)
            if (p.name == "line" && !p.poison) line(p);
        pump();
        exhaust();
        others();
        interlocks();
        note_defaults(root_, {});
        return std::move(rig_);
    }

private:
    Figure fig(std::string_view name, Kind kind, unsigned n = 0) const { return figure(root_, name, kind, n); }

    Index output(const Property& p) {
        const Property* number = p.find("output");
        const Capture* c = number == nullptr || number->poison ? nullptr : number->match.value(Kind::count);
        if (c == nullptr) return 0;
        if (c->value.lo != std::floor(c->value.lo) || c->value.lo < 1 || c->value.lo > 32) {
            error(c->span,
                  fmt::format("an output is a whole number from 1 to 32, not {}", shortest(c->value.lo)));
            return 0;
        }
        return static_cast<Index>(c->value.lo);
    }

    Diagnostic& error(athanor::Span span, std::string message) {
        rig_.broken = true;
        return r_.out().error(Code::rig_inconsistent, span, std::move(message));
    }

    void surroundings() {
        rig_.ambient_temperature = fig("ambient", Kind::temperature);
        rig_.ambient_pressure = fig("ambient", Kind::pressure);
        rig_.mixing = fig("mixing", Kind::fraction);
        rig_.leak_rate = fig("leak_rate", Kind::leak_rate);
        rig_.leak_rate.value.lo = 0; // a rig may be tighter than it was measured
        rig_.load_lag = fig("load_lag", Kind::time);
        rig_.load_offset = fig("load_offset", Kind::difference);
        rig_.outlet_diameter = fig("outlet", Kind::length, 0);
        rig_.outlet_length = fig("outlet", Kind::length, 1);
        rig_.room_volume = fig("room", Kind::volume);
        rig_.room_air_changes = fig("room", Kind::frequency);
        rig_.room_air_without_power = fig("ventilated_without_power", Kind::frequency);
        rig_.heated_lines = fig("heated_lines", Kind::temperature);
        rig_.relief = fig("relief", Kind::overpressure);
    }

    /// `mains` and its like may stand in the furnace or in the rig.
    Figure furnace_figure(const Property& f, std::string_view name, Kind kind) {
        stands_once(f, "furnace", name, name);
        return f.has(name) ? figure(f, name, kind) : fig(name, kind);
    }

    /// In both places, as where a variant writes it beside the block of its base, only one of them would count.
    void stands_once(const Property& block, std::string_view name_of_block, std::string_view in_block,
                     std::string_view in_rig) {
        const Property *inner = block.find(in_block), *outer = root_.find(in_rig);
        if (inner == nullptr || outer == nullptr || inner->defaulted || outer->defaulted) return;
        rig_.broken = true;
        r_.out()
            .error(Code::rig_inconsistent, outer->span,
                   fmt::format("rig `{}` says this here and in its `{}`, and only one of them can count",
                               rig_.name, name_of_block))
            .also(inner->span, "the other one")
            .remedy(
                fmt::format("leave one out; what a variant's base has in the block, the variant changes there:"
                            "  {} {{ {} … }}",
                            name_of_block, in_block));
    }

    void furnace() {
        const Property* f = root_.find("furnace");
        if (f == nullptr) return;
        Furnace& to = rig_.furnace;
        to.source = f->span;
        to.range = figure(*f, "range", Kind::temperature);
        // Tungsten, of which the hottest heaters are made, melts at 3422 degC (handbooks; from memory).
        if (constexpr double hottest = 3500 + physics::zero_celsius;
            to.range.given && to.range.hi() > hottest) {
            rig_.broken = true;
            r_.out()
                .error(Code::rig_inconsistent, to.range.source,
                       fmt::format("a furnace up to {}: no heater stands more than {}",
                                   to_text(to.range.hi(), Kind::temperature),
                                   to_text(hottest, Kind::temperature)))
                .remedy("give the range of the furnace's data sheet: `range 40 degC to 1200 degC`");
        }
        to.heated_length = figure(*f, "heated_length", Kind::length);
        to.power = figure(*f, "power", Kind::power);
        to.mains = furnace_figure(*f, "mains", Kind::fraction);
        if (to.mains.given) to.mains.value = Interval(1 - to.mains.value.hi, 1 + to.mains.value.hi);
        to.overshoot = furnace_figure(*f, "overshoot", Kind::difference);
        to.tracking = furnace_figure(*f, "tracking", Kind::time);
        to.control_error = furnace_figure(*f, "control_error", Kind::difference);
        for (const Property& p : f->properties) {
            if (p.poison) continue;
            const Capture* at = p.match.value(Kind::temperature);
            if (p.name == "heat_up") to.heat_up.push_back({figure(&p, Kind::time), at->value.lo});
            if (p.name == "holding_power") to.holding_power.push_back({figure(&p, Kind::power), at->value.lo});
            if (p.name == "cool_down")
                to.cool_down.push_back(
                    {at->value.lo, p.match.value(Kind::temperature, 1)->value.lo, figure(&p, Kind::time)});
            if (p.name == "zones")
                for (unsigned n = 0; const Capture* zone = p.match.named(n); ++n) add_zone(*zone);
        }
        rig_.uniform_length = fig("uniform_length", Kind::length);
        if (!rig_.uniform_length.given && to.heated_length.given) {
            // Common practice, no source: the even part of a single-zone furnace is about a third of its heated
            // length.
            rig_.uniform_length = to.heated_length;
            rig_.uniform_length.value = to.heated_length.value * Interval(1.0 / 3);
            rig_.uniform_length.defaulted = true;
            rig_.uniform_length.reference = "common practice, no source: a third of the heated length";
            rig_.defaulted.emplace_back("uniform_length");
        }
    }

    void add_zone(const Capture& zone) {
        auto& zones = rig_.furnace.zones;
        if (std::find(zones.begin(), zones.end(), zone.text) != zones.end()) {
            rig_.broken = true;
            r_.out().error(Code::duplicate_name, zone.span, fmt::format("zone `{}` is named twice", zone.text));
            return;
        }
        if (zones.size() == 4) {
            error(zone.span, "a furnace has four zones at most");
            return;
        }
        zones.emplace_back(zone.text);
    }

    void tube() {
        const Property* t = root_.find("tube");
        if (t == nullptr) return;
        rig_.tube.source = t->span;
        if (const Property* material = t->find("material"); material != nullptr && !material->poison)
            rig_.tube.material = named(Node::material, *material);
        rig_.tube.inner_diameter = figure(*t, "inner_diameter", Kind::length);
        rig_.tube.wall = figure(*t, "wall", Kind::length);
        rig_.tube.length = figure(*t, "length", Kind::length);
        rig_.tube.rated = figure(*t, "rated", Kind::overpressure);
        rig_.outgassing = fig("outgassing", Kind::leak_rate);
        const Figure area_rate = fig("outgassing", Kind::outgassing);
        if (area_rate.given && rig_.tube.inner_diameter.given && rig_.tube.length.given) {
            rig_.outgassing = area_rate;
            rig_.outgassing.value = area_rate.value * Interval(std::numbers::pi) *
                                    rig_.tube.inner_diameter.value * rig_.tube.length.value;
        }
    }

    /// Called once the tube is known.
    void zone_opening() {
        const Property* f = root_.find("furnace");
        Furnace& to = rig_.furnace;
        if (f == nullptr || to.zones.size() < 2) return;
        to.zone_opening = figure(*f, "zone_opening", Kind::length);
        if (to.zone_opening.given || !rig_.tube.inner_diameter.given || !rig_.tube.wall.given) return;
        // Common practice, no source: the heater's bore is up to half as wide again as the tube.
        to.zone_opening = rig_.tube.inner_diameter;
        to.zone_opening.value = {1.5 * (rig_.tube.inner_diameter.lo() + 2 * rig_.tube.wall.lo()),
                                 1.5 * (rig_.tube.inner_diameter.hi() + 2 * rig_.tube.wall.hi())};
        to.zone_opening.defaulted = true;
        to.zone_opening.reference = "common practice, no source: 1.5 outer diameters of the tube";
        rig_.defaulted.emplace_back("furnace zone_opening");
    }

    void ends() {
        if (const Property* e = root_.find("ends"); e != nullptr && !e->poison) {
            Ends& to = rig_.ends;
            to.source = e->span;
            if (e->match.has("insulation_plugs")) to.kind = EndsKind::insulation_plugs;
            if (e->match.has("radiation_shields")) to.kind = EndsKind::radiation_shields;
            to.length = figure(*e, "length", Kind::length);
            to.porosity = figure(*e, "porosity", Kind::fraction);
            to.air_release = figure(*e, "air_release", Kind::time);
            to.count = figure(*e, "count", Kind::count);
            to.open_area = figure(*e, "open_area", Kind::fraction);
            to.draught = figure(*e, "draught", Kind::flow);
        }
        if (const Property* s = root_.find("seals"); s != nullptr && !s->poison) {
            rig_.seals.source = s->span;
            rig_.seals.gas_tight = s->match.has("gas_tight");
            rig_.seals.rated = figure(*s, "rated", Kind::overpressure);
            rig_.seals.limit = figure(*s, "limit", Kind::temperature);
            rig_.seals.cooled = says_yes(s->find("cooled"));
            rig_.seals.cooled_without_power = says_yes(s->find("cooled_without_power"));
            rig_.seals.coolant_loss_trips = s->has("coolant_loss");
            stands_once(*s, "seals", "rise", "seal_rise");
            rig_.seals.usual_rise = fig("seal_rise", Kind::difference);
            rig_.seals.rise = s->has("rise") ? figure(*s, "rise", Kind::difference) : rig_.seals.usual_rise;
        }
    }

    /// A name that nothing declares may have been told by an earlier stage: the rig is broken all the same.
    Index named(Node kind, const Property& p) {
        const Index found = r_.resolve(kind, &p, p.match.named());
        if (found == none) rig_.broken = true;
        return found;
    }

    /// Every rule about fuel counts on a temperature above which it burns, or on air that is away: neither
    /// holds for a gas that lights by itself where it leaves.
    void carried(const Line& line, const Property& p) {
        if (line.gas == none || !r_.model.gases[line.gas].hazards.pyrophoric) return;
        const Gas& gas = r_.model.gases[line.gas];
        std::string which;
        for (const auto& [part, share] : gas.parts)
            if (r_.model.gases[part].hazards.pyrophoric && share.hi > pyrophoric_trace)
                which += (which.empty() ? "" : " and ") + to_text(share, Kind::fraction, 3) + " " +
                         r_.model.gases[part].name;
        error(p.span, fmt::format("line `{}` carries {}, which may light by itself wherever it meets air",
                                  line.name, which))
            .cause("no rule here answers such a gas: neither heat nor a burner makes it safe, and cold it "
                   "burns too")
            .remedy(
                fmt::format("a mixture with up to {} of it is judged as any other; more than that is a matter "
                            "of a plant built for it",
                            to_text(pyrophoric_trace, Kind::fraction)));
    }

    void line(const Property& p) {
        Line to;
        to.name = p.match.named()->text;
        to.source = p.span;
        if (const Property* gas = p.find("gas"); gas != nullptr && !gas->poison)
            to.gas = named(Node::gas, *gas);
        carried(to, p);
        to.output = output(p);
        meter(p, to);
        if (const Property* fallen = p.find("de_energised"); fallen != nullptr && !fallen->poison) {
            to.open_without_power = fallen->match.has("open");
            if (const Capture* flow = fallen->match.value(Kind::flow)) {
                to.flow_without_power = flow->value;
                if (!to.meter.controlled)
                    error(flow->span,
                          fmt::format("line `{}` has a hand meter, which keeps its set flow without power",
                                      to.name))
                        .remedy("leave the flow out, or say `meter controlled`");
            } else if (to.open_without_power && to.meter.controlled) {
                // Without a figure it counts as zero to full scale.
                to.flow_without_power = {0, to.meter.range.value.hi};
            }
        } else if (to.output != 0 && !p.has("de_energised") && !misspelt(p)) {
            error(p.span,
                  fmt::format(
                      "line `{}` is worked by output {} and does not say where its valve falls without power",
                      to.name, to.output))
                .remedy("add `de_energised closed`, or `de_energised open` for the gas that must flow then");
        }
        to.supply = figure(p, "supply", Kind::overpressure);
        to.cylinder_volume = figure(p, "cylinder", Kind::volume);
        to.cylinder_pressure = figure(p, "cylinder", Kind::pressure);
        to.low_pressure_trips = p.has("low_pressure");
        const Property* shut_off = p.find("shut_off");
        to.double_shut_off = shut_off != nullptr && !shut_off->poison && shut_off->match.has("two");
        rig_.lines.push_back(std::move(to));
    }

    void meter(const Property& p, Line& to) {
        Meter& meter = to.meter;
        if (const Property* kind = p.find("meter"); kind != nullptr && !kind->poison) {
            meter.source = kind->span;
            meter.controlled = kind->match.has("controlled");
            if (const Capture* channel = kind->match.value(Kind::count)) {
                if (channel->value.lo != std::floor(channel->value.lo) || channel->value.lo < 1 ||
                    channel->value.lo > 32)
                    error(channel->span, fmt::format("a channel is a whole number from 1 to 32, not {}",
                                                     shortest(channel->value.lo)));
                else
                    meter.channel = static_cast<Index>(channel->value.lo);
            }
        }
        if (const Property* accuracy = p.find("accuracy"); accuracy != nullptr && !accuracy->poison) {
            const bool reading = accuracy->match.has("reading"), full = accuracy->match.has("full_scale");
            if (reading) meter.accuracy = figure(accuracy, Kind::fraction);
            if (full) meter.accuracy_full = figure(accuracy, Kind::fraction, reading ? 1 : 0);
        }
        const Property* flow = p.find("flow");
        if (flow == nullptr || flow->poison) return;
        if (flow->match.value(Kind::flow) != nullptr) {
            meter.range = figure(flow, Kind::flow);
        } else {
            const Capture* temperature = flow->match.value(Kind::temperature);
            const Capture* pressure = flow->match.value(Kind::pressure);
            if (temperature == nullptr || pressure == nullptr) {
                rig_.broken = true;
                r_.out()
                    .error(
                        Code::ambiguous_volume_flow, flow->match.value(Kind::volume_flow)->span,
                        fmt::format(
                            "line `{}` states volumes and not at which temperature and pressure they are read",
                            to.name))
                    .remedy("add the meter's reference, for example `at 20 degC, 1 bar`, or state the flow in "
                            "sccm or slm");
                return;
            }
            meter.has_reference = true;
            meter.reference_temperature = temperature->value.lo;
            meter.reference_pressure = pressure->value.lo;
            if (meter.reference_temperature <= 0 || meter.reference_pressure <= 0) {
                error(flow->span, "a meter's reference lies above absolute zero and above vacuum");
                return;
            }
            meter.range = figure(flow, Kind::volume_flow);
            meter.range.value = {meter.molar(meter.range.value.lo), meter.molar(meter.range.value.hi)};
        }
        if (meter.range.given && meter.range.value.hi <= 0)
            error(flow->span, fmt::format("line `{}` can set no flow above zero", to.name));
    }

    void pump() {
        const Property* p = root_.find("pump");
        if (p == nullptr || p->poison) return;
        Pump& to = rig_.pump;
        to.present = true;
        to.source = p->span;
        to.output = output(*p);
        to.speed = figure(*p, "speed", Kind::pumping_speed);
        if (to.speed.given && to.speed.lo() == to.speed.hi()) {
            to.accuracy = figure(*p, "accuracy", Kind::fraction);
            if (to.accuracy.given)
                to.speed.value = to.speed.value * Interval(1 - to.accuracy.hi(), 1 + to.accuracy.hi());
        }
        to.ultimate = figure(*p, "ultimate", Kind::pressure);
        to.pipe_diameter = figure(*p, "pipe", Kind::length, 0);
        to.pipe_length = figure(*p, "pipe", Kind::length, 1);
        const Property* fallen = p->find("de_energised");
        to.open_without_power = fallen != nullptr && !fallen->poison && fallen->match.has("open");
        const Property* sealing = p->find("sealing");
        to.oil_sealed = sealing == nullptr || sealing->poison || !sealing->match.has("dry");
    }

    void exhaust() {
        const Property* e = root_.find("exhaust");
        if (e == nullptr || e->poison) return;
        Exhaust& to = rig_.exhaust;
        to.source = e->span;
        const Property* hood = nullptr;
        if (e->match.has("afterburner")) {
            to.kind = ExhaustKind::afterburner;
            to.output = output(*e);
            to.pilot = says_yes(e->find("pilot"));
            const Property* feed = e->find("de_energised");
            to.feed_open_without_power = feed != nullptr && !feed->poison && feed->match.has("open");
            hood = e->find("into");
        } else if (e->match.has("extraction_hood")) {
            to.kind = ExhaustKind::extraction_hood;
            hood = e;
        } else if (e->match.has("shut")) {
            to.kind = ExhaustKind::shut;
        }
        to.extraction = hood != nullptr;
        to.extraction_backup = hood != nullptr && says_yes(hood->find("backup_power"));
    }

    void others() {
        if (const Property* s = root_.find("sensor"); s != nullptr && !s->poison) sensor(*s);
        if (const Property* t = root_.find("throttle"); t != nullptr && !t->poison) {
            rig_.has_throttle = true;
            rig_.throttle = figure(t, Kind::pressure);
            rig_.throttle_accuracy = figure(*t, "accuracy", Kind::fraction);
        }
        if (const Property* b = root_.find("bubbler"); b != nullptr && !b->poison) {
            rig_.bubbler.present = true;
            rig_.bubbler.source = b->span;
            rig_.bubbler.output = output(*b);
            rig_.bubbler.range = figure(*b, "at", Kind::temperature);
            rig_.bubbler.bath_error = figure(*b, "bath_error", Kind::difference);
            rig_.bubbler.saturation = figure(*b, "saturation", Kind::fraction);
            if (const Property* line = b->find("line"); line != nullptr && !line->poison)
                rig_.bubbler.line = line_named(line->match.named()->text, line->match.named()->span);
        }
        if (const Property* s = root_.find("slide"); s != nullptr && !s->poison) {
            rig_.slide.present = true;
            rig_.slide.hand = s->match.has("hand");
            rig_.slide.source = s->span;
            rig_.slide.output = output(*s);
            for (const Property& place : s->properties)
                if (place.schema != nullptr && place.schema->any_name() && !place.poison)
                    rig_.slide.places.emplace_back(place.name, figure(&place, Kind::length));
        }
    }

    void sensor(const Property& s) {
        Sensor& to = rig_.sensor;
        to.source = s.span;
        to.in_tube = s.match.has("in");
        to.type = named(Node::thermocouple, s);
        const Capture* number = s.match.value(Kind::count);
        if (number != nullptr) to.tolerance_class = static_cast<int>(number->value.lo);
        if (to.type == none || r_.model.thermocouples[to.type].broken) { // told there
            rig_.broken = true;
            return;
        }
        const Thermocouple& type = r_.model.thermocouples[to.type];
        std::string known;
        for (const Tolerance& c : type.classes) {
            if (c.number == to.tolerance_class) return;
            known += fmt::format("{}{}", known.empty() ? "" : ", ", c.number);
        }
        error(number == nullptr ? s.span : number->span,
              fmt::format("thermocouple `{}` has no tolerance class {}", type.name,
                          number == nullptr ? std::to_string(to.tolerance_class) : shortest(number->value.lo)))
            .remedy(known.empty() ? "declare the class in the thermocouple" : fmt::format("it has {}", known));
    }

    /// An inherited interlock meant a line that a variant leaves out: that effect of it goes with the line.
    bool left_out(std::string_view name) const {
        const auto listed = [&](const std::vector<std::string_view>& list) {
            return std::find(list.begin(), list.end(), name) != list.end();
        };
        const auto known = [&](const Line& line) { return line.name == name; };
        if (std::any_of(rig_.lines.begin(), rig_.lines.end(), known)) return false;
        return listed(d_.dropped) || (listed(d_.dropped_gases) && carriers(name).empty());
    }

    std::vector<std::string_view> carriers(std::string_view name) const {
        std::vector<std::string_view> carry;
        for (const Line& line : rig_.lines) {
            if (line.gas == none) continue;
            for (const auto& [species, share] : r_.model.gases[line.gas].parts)
                if (r_.model.gases[species].name == name && share.lo > 0.5) carry.push_back(line.name);
            if (r_.model.gases[line.gas].name == name && (carry.empty() || carry.back() != line.name))
                carry.push_back(line.name);
        }
        return carry;
    }

    /// A line of the rig by its name, or by its gas where one line alone carries it.
    std::string line_named(std::string_view name, athanor::Span span) {
        for (const Line& line : rig_.lines)
            if (line.name == name) return line.name;
        const std::vector<std::string_view> carry = carriers(name);
        std::vector<std::string_view> known;
        for (const Line& line : rig_.lines) known.push_back(line.name);
        if (carry.size() == 1) return std::string(carry[0]);
        rig_.broken = true;
        Diagnostic& d =
            r_.out().error(Code::unknown_name, span,
                           carry.empty() ? fmt::format("rig `{}` has no line `{}`", d_.name, name)
                                         : fmt::format("several lines of rig `{}` carry `{}`", d_.name, name));
        std::string list;
        for (std::string_view line : carry.empty() ? known : carry)
            list += fmt::format("{}`{}`", list.empty() ? "" : ", ", line);
        if (std::string near = nearest(name, known); carry.empty() && !near.empty())
            mend_name(d.remedy(fmt::format("did you mean `{}`?", near)), span, name, near);
        else if (!list.empty())
            d.remedy(fmt::format("its lines are {}", list));
        return {};
    }

    void interlocks() {
        for (const Item& item : d_.interlocks) {
            const Tree& tree = r_.registry.tree(item.unit);
            if (tree[item.node].broken) continue;
            Interlock to;
            to.source = tree.span(item.node);
            to.unit = item.unit;
            to.node = item.node;
            bool gone = false;
            for (NodeId part : tree.children(item.node)) {
                const Node kind = tree.kind(part);
                if (kind != Node::closes && kind != Node::opens) continue;
                const NodeId name = tree.child(part, Node::name);
                if (name == no_node) continue;
                if (left_out(r_.registry.text(item.unit, name))) {
                    gone = true;
                    continue;
                }
                std::string line = line_named(r_.registry.text(item.unit, name), tree.span(name));
                if (!line.empty()) (kind == Node::closes ? to.closes : to.opens).push_back(std::move(line));
            }
            if (gone && to.closes.empty() && to.opens.empty()) continue;
            for (const std::string& line : to.closes)
                if (std::find(to.opens.begin(), to.opens.end(), line) != to.opens.end())
                    error(to.source, fmt::format("this interlock closes and opens line `{}`", line));
            const std::vector<std::string> opens = std::exchange(to.opens, {});
            for (const std::string& line : opens) {
                const std::string_view what = hazard_let_in(line);
                if (what.empty())
                    to.opens.push_back(line);
                else
                    error(to.source,
                          fmt::format("this interlock opens line `{}`, which carries {} gas", line, what))
                        .remedy(
                            "a fault must not let in what burns, feeds a fire or poisons: let it open an inert "
                            "line and close the others");
            }
            rig_.interlocks.push_back(std::move(to));
        }
    }

    /// What no interlock may let in by itself; empty where the line's gas does no harm. What holds no more
    /// oxygen than air feeds a fire only where there is a fuel.
    std::string_view hazard_let_in(std::string_view name) const {
        bool fuel = false;
        for (const Line& line : rig_.lines)
            fuel = fuel || (line.gas != none && r_.model.gases[line.gas].hazards.flammable);
        for (const Line& line : rig_.lines) {
            if (line.name != name || line.gas == none) continue;
            const Gas& gas = r_.model.gases[line.gas];
            if (gas.hazards.flammable) return "flammable";
            if (gas.hazards.toxic) return "toxic";
            if (gas.hazards.enriched || (fuel && gas.hazards.oxidiser)) return "oxidising";
        }
        return {};
    }

    /// Figures that the run takes from defaults, by their path ("line argon accuracy").
    void note_defaults(const Property& owner, const std::string& path) {
        for (const Property& p : owner.properties) {
            std::string name(p.name);
            if (const Capture* named = p.match.named(); named != nullptr && !p.properties.empty())
                name += fmt::format(" {}", named->text);
            const bool figures = std::any_of(p.match.captures.begin(), p.match.captures.end(),
                                             [](const Capture& c) { return !c.type.poison(); });
            const bool unasked = path == "pump " && name == "accuracy" && !rig_.pump.accuracy.given;
            if (p.defaulted && figures && !unasked && !overruled(p.name)) rig_.defaulted.push_back(path + name);
            note_defaults(p, path + name + " ");
        }
    }

    /// A default of the rig that its furnace or seals state themselves.
    bool overruled(std::string_view name) const {
        const Property* furnace = root_.find("furnace");
        const Property* seals = root_.find("seals");
        return (furnace != nullptr && furnace->has(name)) ||
               (name == "seal_rise" && seals != nullptr && (seals->has("rise") || !rig_.seals.gas_tight));
    }

    const Reading& r_;
    const Declared& d_;
    const Property& root_;
    Rig rig_;
};

} // namespace

double Meter::molar(double volume_flow) const {
    return volume_flow * reference_pressure / (physics::gas_constant * reference_temperature);
}

Rig read_rig(const Reading& reading, Declared& declared, Defaults& defaults) {
    const auto before = reading.out().errors();
    Rig rig = RigReader(reading, declared).read();
    if (declared.defaults.node != no_node)
        defaults = read_rig_defaults(reading, declared.defaults.unit, declared.defaults.node, rig);
    if (reading.out().errors() != before) rig.broken = true;
    return rig;
}

} // namespace athanor::check
