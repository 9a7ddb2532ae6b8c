#include "compiler/check/read_equipment.hpp"
#include "compiler/check/equipment_readers.hpp"

namespace athanor::check {

Index Reading::resolve(Node kind, const Property* property, const Capture* name) const {
    Declaration* found = registry.find(kind, name->text, property->unit, name->span);
    if (found == nullptr) return none;
    complete(*found);
    return found->index;
}

void Reading::complete(Declaration& d) const {
    if (!d.unread) return;
    d.unread = false;
    if (d.kind == Node::material)
        model.materials[d.index] = read_material(*this, read_declaration(registry, d));
    else
        model.thermocouples[d.index] = read_thermocouple(*this, read_declaration(registry, d));
}

void Reading::complete(Node kind, Index index) const {
    for (Declaration& d : registry.all())
        if (d.kind == kind && d.index == index) complete(d);
}

namespace {

/// Adds a material or thermocouple to its list, for now by its name.
template<class List>
void announce(Declaration& d, List& list) {
    d.index = static_cast<Index>(list.size());
    d.unread = true;
    list.emplace_back().name = d.name;
}

} // namespace

void read_equipment(const Reading& reading, Library library) {
    Registry& registry = reading.registry;
    Model& model = reading.model;
    // Gases, materials and thermocouples first: rigs name them, wherever they stand.
    read_gases(reading);
    for (Declaration& d : registry.all()) {
        if (d.kind == Node::material)
            announce(d, model.materials);
        else if (d.kind == Node::thermocouple)
            announce(d, model.thermocouples);
        else
            continue;
        // What a site has written is judged, whether something names it or not.
        if (library == Library::whole || !registry.units[d.unit].standard) reading.complete(d);
    }
    for (Declaration& d : registry.all()) {
        if (d.kind == Node::rig) {
            Declared declared = read_declaration(registry, d);
            Defaults defaults;
            Rig rig = read_rig(reading, declared, defaults);
            const auto before = reading.out().errors();
            check_rig(reading, declared, rig);
            rig.broken = rig.broken || reading.out().errors() != before;
            d.index = static_cast<Index>(model.rigs.size());
            model.rigs.push_back(std::move(rig));
            model.rig_defaults.push_back(std::move(defaults));
        } else if (d.kind == Node::controller) {
            d.index = static_cast<Index>(model.controllers.size());
            model.controllers.push_back(read_controller(reading, read_declaration(registry, d)));
        }
    }
}

void read_equipment(const std::vector<Unit>& units, const Files& files, Model& model, Diagnostics& out) {
    Registry registry(units, files, out);
    read_equipment(Reading{registry, model}, Library::whole);
}

std::vector<Gas> known_substances(const std::vector<Unit>& units, const Files& files) {
    Diagnostics told; // by `read_equipment`
    Registry registry(units, files, told);
    return read_substances(registry);
}

} // namespace athanor::check
