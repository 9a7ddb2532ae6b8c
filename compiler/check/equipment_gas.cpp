#include "compiler/check/equipment_readers.hpp"
#include "compiler/check/gas_formula.hpp"
#include "compiler/check/gas_mixture.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace athanor::check {

namespace {

/// Parts that add to 100 % to within the rounding of decimal numbers do.
constexpr double sum_tolerance = 1e-9;

/// Of a gas, or of a substance, which need not have the figures of a fuel.
Gas read_figures(const Declared& d) {
    Gas gas;
    gas.name = d.name;
    gas.title = d.title;
    gas.source = d.span;
    gas.broken = d.broken;
    const Property& p = d.root;
    if (const Property* formula = p.find("formula"); formula != nullptr && formula->match.text() != nullptr)
        gas.formula = formula->match.text()->text;
    if (const Property* hazard = p.find("hazard"); hazard != nullptr) {
        gas.hazards.pyrophoric = hazard->match.has("pyrophoric");
        gas.hazards.flammable = gas.hazards.pyrophoric || hazard->match.has("flammable");
        gas.hazards.oxidiser = hazard->match.has("oxidiser");
        gas.hazards.enriched = gas.hazards.oxidiser;
        gas.hazards.inert = hazard->match.has("inert");
        gas.hazards.toxic = hazard->match.has("toxic");
        gas.hazards.asphyxiant = hazard->match.has("asphyxiant");
        gas.hazard_reason = "as declared";
        gas.hazard_source = hazard->reference;
    }
    gas.molar_mass = figure(p, "molar_mass", Kind::molar_mass);
    gas.lower_limit = figure(p, "lower_limit", Kind::fraction);
    gas.upper_limit = figure(p, "upper_limit", Kind::fraction);
    gas.safety_temperature = figure(p, "safety_temperature", Kind::temperature);
    gas.autoignition = figure(p, "autoignition", Kind::temperature);
    gas.limiting_oxygen = figure(p, "limiting_oxygen", Kind::fraction);
    gas.inert_equivalence = figure(p, "inert_equivalence", Kind::count);
    gas.fuel_threshold = figure(p, "fuel_threshold", Kind::fraction);
    gas.exposure_limit = figure(p, "exposure_limit", Kind::fraction);
    gas.toxic_above = figure(p, "toxic_above", Kind::temperature);
    gas.heat_of_combustion = figure(p, "heat_of_combustion", Kind::derived);
    gas.meter_factor = figure(p, "meter_factor", Kind::count);
    return gas;
}

Gas read_pure(const Declared& d, Diagnostics& out) {
    Gas gas = read_figures(d);
    const Property& p = d.root;
    if (d.broken) return gas;

    const auto want = [&](const Figure& figure, std::string_view name, std::string_view sample) {
        if (figure.given) return;
        out.error(Code::rig_inconsistent, d.span,
                  fmt::format("gas `{}` is flammable and says nothing about `{}`", d.name, name))
            .remedy(fmt::format("for example {} {}", name, sample));
        gas.broken = true;
    };
    if (gas.hazards.flammable) {
        want(gas.lower_limit, "lower_limit", "4.0 %");
        want(gas.upper_limit, "upper_limit", "77 %");
        want(gas.safety_temperature, "safety_temperature", "760 degC");
    }
    const bool fuel = gas.hazards.flammable, burning = fuel || gas.hazards.oxidiser;
    if ((fuel && gas.hazards.oxidiser) || (burning && gas.hazards.inert)) {
        out.error(Code::rig_inconsistent, p.find("hazard")->span,
                  fmt::format("gas `{}` is said to be {} and {}", d.name, fuel ? "flammable" : "an oxidiser",
                              gas.hazards.inert ? "inert" : "an oxidiser"))
            .remedy("keep the hazard that holds");
        gas.broken = true;
    }
    if (gas.lower_limit.given && !gas.hazards.flammable) {
        out.error(Code::rig_inconsistent, gas.lower_limit.source,
                  fmt::format("gas `{}` has a lower limit, and its hazards do not say `flammable`", d.name))
            .also(p.find("hazard")->span, "its hazards");
        gas.broken = true;
    }
    if (gas.lower_limit.given && gas.upper_limit.given && gas.lower_limit.lo() >= gas.upper_limit.lo()) {
        out.error(Code::rig_inconsistent, gas.upper_limit.source,
                  fmt::format("the upper limit of `{}`, {}, does not lie above its lower limit, {}", d.name,
                              to_text(gas.upper_limit.lo(), Kind::fraction),
                              to_text(gas.lower_limit.lo(), Kind::fraction)))
            .also(gas.lower_limit.source, "lower limit");
        gas.broken = true;
    }
    return gas;
}

/// Resolves mixtures in whatever order they are written.
class Mixer {
public:
    Mixer(const Reading& reading, const std::vector<Declaration*>& of)
        : r_(reading), of_(of), state_(of.size()) {}

    void resolve(Index index) {
        if (state_[index] == State::done) return;
        state_[index] = State::open;
        way_.push_back(index);
        mix(index);
        way_.pop_back();
        state_[index] = State::done;
    }

private:
    enum class State : std::uint8_t { untouched, open, done };
    struct Part {
        Index gas = none;
        double share = 0;
        athanor::Span span;
    };

    Gas& gas(Index index) { return r_.model.gases[index]; }

    void mix(Index index) {
        const Declaration& d = *of_[index];
        const Tree& tree = r_.registry.tree(d.unit);
        if (gas(index).pure) return;
        gas(index).broken = gas(index).broken || tree[d.node].broken;
        std::vector<Part> parts;
        Index rest = none;
        athanor::Span rest_span{};
        double sum = 0;
        for (NodeId node : tree.children(d.node)) {
            if (tree.kind(node) != Node::part) continue;
            const NodeId share = tree[node].first;
            const NodeId name = share == no_node ? no_node : tree[share].next;
            if (name == no_node || tree[node].broken) {
                gas(index).broken = true;
                continue;
            }
            Part part;
            part.span = tree.span(node);
            part.gas = part_gas(index, d.unit, name);
            if (tree.kind(share) == Node::rest) {
                if (rest_span.end != 0) {
                    error(Code::duplicate_name, index, tree.span(share), "a mixture has one `rest`")
                        .also(rest_span, "the first one");
                    continue;
                }
                rest = part.gas;
                rest_span = tree.span(share);
                if (rest == none) gas(index).broken = true;
                continue;
            }
            if (!share_of(index, tree, share, part.share) || part.gas == none) {
                gas(index).broken = true;
                continue;
            }
            sum += part.share;
            parts.push_back(part);
        }
        if (gas(index).broken) return;
        const double left = 1 - sum;
        if (left < -sum_tolerance) {
            error(Code::rig_inconsistent, index, tree.span(d.node),
                  fmt::format("the parts of `{}` add to {}", d.name, to_text(sum, Kind::fraction)))
                .remedy("give shares that add to 100 %, or name one part as `rest`");
            return;
        }
        if (rest_span.end == 0 && left > sum_tolerance) {
            error(Code::rig_inconsistent, index, tree.span(d.node),
                  fmt::format("the parts of `{}` add to {}, and nothing says what the other {} are", d.name,
                              to_text(sum, Kind::fraction), to_text(left, Kind::fraction)))
                .remedy("name the part that fills up as `rest`, for example `+ rest nitrogen`");
            return;
        }
        if (rest_span.end != 0) parts.push_back({rest, std::max(left, 0.0), rest_span});
        spread(index, parts);
    }

    void spread(Index index, const std::vector<Part>& parts) {
        std::vector<std::pair<Index, Interval>> pure;
        for (const Part& part : parts) {
            if (gas(part.gas).broken) {
                gas(index).broken = true;
                return;
            }
            for (const auto& [species, inner] : gas(part.gas).parts) {
                const Interval share =
                    inner == Interval(1) ? Interval(part.share) : inner * Interval(part.share);
                auto known = std::find_if(pure.begin(), pure.end(),
                                          [&, s = species](const auto& p) { return p.first == s; });
                if (known == pure.end())
                    pure.emplace_back(species, share);
                else
                    known->second = known->second + share;
            }
        }
        gas(index).parts = std::move(pure);
        derive_mixture(r_.model.gases, gas(index));
    }

    Index part_gas(Index index, Index unit, NodeId node) {
        const auto span = r_.registry.span(unit, node);
        const Declaration* found = r_.registry.find(Node::gas, r_.registry.text(unit, node), unit, span);
        if (found == nullptr || found->index == none) return none;
        if (state_[found->index] == State::open) {
            std::string way;
            for (auto at = std::find(way_.begin(), way_.end(), found->index); at != way_.end(); ++at)
                way += fmt::format("`{}` of ", gas(*at).name);
            error(Code::recursion, index, span,
                  fmt::format("gas `{0}` is made of itself: {1}`{0}`", found->name, way))
                .remedy("a mixture is made of gases that are declared without it");
            return none;
        }
        if (way_.size() > max_chain) {
            error(Code::too_large, index, span,
                  fmt::format("mixtures of mixtures are followed {} deep at most", max_chain));
            return none;
        }
        resolve(found->index);
        return found->index;
    }

    bool share_of(Index index, const Tree& tree, NodeId node, double& share) {
        if (tree[node].broken) return false;
        const Node kind = tree.kind(node);
        if (kind == Node::hole) {
            error(Code::value_missing, index, tree.span(node), "this part of the mixture has no share yet");
            return false;
        }
        if (kind != Node::quantity && kind != Node::number) {
            error(Code::misplaced, index, tree.span(node),
                  "a gas is declared with plain shares, not with expressions")
                .remedy("write the share as a number with its unit, for example 5 %");
            return false;
        }
        const Literal literal = read_literal(tree, node, r_.registry.files);
        if (literal.type.poison()) return false;
        if (!fits(literal, type_of(Kind::fraction), share)) {
            error(Code::unit_mismatch, index, tree.span(node),
                  fmt::format("a part of a mixture is a fraction, not {}", describe(literal.type)))
                .remedy("write a share in %, ppm or ppb");
            return false;
        }
        if (share <= 0 || share > 1) {
            error(Code::rig_inconsistent, index, tree.span(node),
                  fmt::format("a part of a mixture lies above 0 and up to 100 %, not {}",
                              to_text(share, Kind::fraction)));
            return false;
        }
        return true;
    }

    Diagnostic& error(Code code, Index index, athanor::Span span, std::string message) {
        gas(index).broken = true;
        return r_.out().error(code, span, std::move(message));
    }

    const Reading& r_;
    const std::vector<Declaration*>& of_;
    std::vector<State> state_;
    std::vector<Index> way_;
};

/// They bind the pure gases of a site; most files have none, and are not kept waiting.
bool asks_substances(const Reading& reading, const std::vector<Declaration*>& of) {
    const auto own = [&](const Declaration& d) { return !reading.registry.units[d.unit].standard; };
    for (Index i = 0; i < of.size(); ++i)
        if (reading.model.gases[i].pure && own(*of[i])) return true;
    return std::any_of(reading.registry.all().begin(), reading.registry.all().end(),
                       [&](const Declaration& d) { return d.kind == Node::substance && own(d); });
}

} // namespace

std::vector<Gas> read_substances(Registry& registry) {
    std::vector<Gas> list;
    for (const Declaration& declaration : registry.all())
        if (declaration.kind == Node::substance)
            list.push_back(read_figures(read_declaration(registry, declaration)));
    return list;
}

void read_gases(const Reading& reading) {
    std::vector<Declaration*> of; // per gas of the model
    for (Declaration& declaration : reading.registry.all()) {
        if (declaration.kind != Node::gas) continue;
        declaration.index = static_cast<Index>(reading.model.gases.size());
        of.push_back(&declaration);
        const Tree& tree = reading.registry.tree(declaration.unit);
        if (tree.kind(declaration.node) == Node::gas) {
            Gas gas = read_pure(read_declaration(reading.registry, declaration), reading.out());
            gas.parts = {{declaration.index, Interval(1)}};
            reading.model.gases.push_back(std::move(gas));
        } else {
            Gas gas;
            gas.name = declaration.name;
            gas.source = declaration.span;
            gas.pure = false;
            reading.model.gases.push_back(std::move(gas));
        }
    }
    if (asks_substances(reading, of)) reading.model.substances = read_substances(reading.registry);
    check_formulas(reading, of);
    Mixer mixer(reading, of);
    for (Index i = 0; i < of.size(); ++i) mixer.resolve(i);
}

} // namespace athanor::check
