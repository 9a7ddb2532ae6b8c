#include "compiler/check/checker.hpp"
#include "compiler/check/equipment_readers.hpp"

namespace athanor::check {

using timeline::SignalKind;

Checker::Checker(const std::vector<Unit>& units_, const Files& files_, Model& model_, Diagnostics& out_)
    : units(units_), files(files_), model(model_), out(out_), declared(units_, files_, model_.names, out_) {
    struct SignalWord {
        std::string_view text;
        SignalKind signal;
        Kind kind;
    };
    constexpr SignalWord signals[] = {
        {"temperature", SignalKind::temperature, Kind::temperature},
        {"setpoint", SignalKind::setpoint, Kind::temperature},
        {"pressure", SignalKind::pressure, Kind::pressure},
        {"flow", SignalKind::flow, Kind::flow},
        {"dew_point", SignalKind::dew_point, Kind::dew_point},
        {"flammability", SignalKind::flammability, Kind::fraction},
        {"ignitability", SignalKind::ignitability, Kind::fraction},
        {"outflow_margin", SignalKind::outflow_margin, Kind::count},
        {"overpressure", SignalKind::overpressure, Kind::overpressure},
        {"rated_overpressure", SignalKind::rated_overpressure, Kind::overpressure},
        {"swept", SignalKind::swept, Kind::count},
        {"elapsed", SignalKind::elapsed, Kind::time},
        {"burning", SignalKind::burning, Kind::time},
        {"burner", SignalKind::burner, Kind::boolean},
        {"pump", SignalKind::pump, Kind::boolean},
        {"extraction", SignalKind::extraction, Kind::boolean},
    };
    Names& names = model.names;
    words_.push_back({SignalKind::constant, Kind::poison}); // name 0
    for (const SignalWord& word : signals) {
        names.intern(word.text);
        words_.push_back({word.signal, word.kind});
    }
    signals_end_ = static_cast<NameId>(words_.size());
    ambient_ = names.intern("ambient");
    load_ = names.intern("load");
    // In the order of `Hazard`, one after the other.
    flammable_ = names.intern("flammable");
    for (std::string_view word : {"oxidiser", "inert", "toxic"}) names.intern(word);
    safety_temperature_ = names.intern("safety_temperature");
    tube_ = names.intern("tube");
    duration_ = names.intern("duration");
    segments_ = names.intern("segments");
    programs_ = names.intern("programs");
}

void Checker::run(const Reading& equipment) {
    equipment_ = &equipment;
    std::size_t nodes = 0;
    for (const Unit& unit : units) nodes += unit.tree.nodes().size();
    model.exprs.reserve(model.exprs.size() + nodes / 4);
    model.statements.reserve(model.statements.size() + nodes / 6);
    model.clauses.reserve(nodes / 12);
    model.names_used.reserve(nodes / 12);
    model.targets.reserve(nodes / 12);

    collect();
    for (Index i = 0; i < operation_nodes_.size(); ++i) operation(i);
    for (Index i = 0; i < recipe_nodes_.size(); ++i) recipe(i);
    for (Index g = 0; g < globals_.size(); ++g)
        if (globals_[g].state == Global::State::fresh) {
            // Nothing reads it; what is wrong in it is told all the same.
            const bool used = globals_[g].used;
            global_value(g, globals_[g].span);
            globals_[g].used = used;
        }
    for (const Global& g : globals_)
        if (units[g.unit].named) model.lets.emplace_back(g.name, g.value);
    // The standard policy first: a site's rule that takes one of its names is the one to change.
    for (const bool standard : {true, false})
        for (Index u = 0; u < units.size(); ++u) {
            if (units[u].standard != standard) continue;
            enter(u);
            for (NodeId node : tree().children(tree().root))
                if (kind(node) == Node::policy) policy(node);
        }
    judge_concessions();
    for (Index u = 0; u < units.size(); ++u) {
        if (!units[u].named) continue; // tests of imported files are run with those files
        enter(u);
        for (NodeId node : tree().children(tree().root))
            if (kind(node) == Node::test) test(node);
    }
    interlocks();
    refuse_recursion();
    judge_placed_calls();
    unused();
}

Model check(const std::vector<Unit>& units, const Files& files, Diagnostics& out, Library library) {
    Model model;
    Checker checker(units, files, model, out);
    Registry registry(units, files, out);
    const Reading equipment{registry, model};
    read_equipment(equipment, library);
    checker.run(equipment);
    return model;
}

} // namespace athanor::check
