#include "compiler/check/read_equipment.hpp"
#include "compiler/check/equipment_readers.hpp"

namespace athanor::check {

Index Reading::resolve(Node kind, const Property* property, const Capture* name) const {
    const Declaration* found = registry.find(kind, name->text, property->unit, name->span);
    return found == nullptr ? none : found->index;
}

void read_equipment(const std::vector<Unit>& units, const Files& files, Model& model, Diagnostics& out) {
    Registry registry(units, files, out);
    Reading reading{registry, model};
    // Gases, materials and thermocouples first: rigs name them, wherever they stand.
    read_gases(reading);
    for (Declaration& d : registry.all()) {
        if (d.kind == Node::material) {
            d.index = static_cast<Index>(model.materials.size());
            model.materials.push_back(read_material(reading, read_declaration(registry, d)));
        } else if (d.kind == Node::thermocouple) {
            d.index = static_cast<Index>(model.thermocouples.size());
            model.thermocouples.push_back(read_thermocouple(reading, read_declaration(registry, d)));
        }
    }
    for (Declaration& d : registry.all()) {
        if (d.kind == Node::rig) {
            Declared declared = read_declaration(registry, d);
            Defaults defaults;
            Rig rig = read_rig(reading, declared, defaults);
            const auto before = out.errors();
            check_rig(reading, declared, rig);
            rig.broken = rig.broken || out.errors() != before;
            d.index = static_cast<Index>(model.rigs.size());
            model.rigs.push_back(std::move(rig));
            model.rig_defaults.push_back(std::move(defaults));
        } else if (d.kind == Node::controller) {
            d.index = static_cast<Index>(model.controllers.size());
            model.controllers.push_back(read_controller(reading, read_declaration(registry, d)));
        }
    }
}

std::vector<Gas> known_substances(const std::vector<Unit>& units, const Files& files) {
    Diagnostics told; // by `read_equipment`
    Registry registry(units, files, told);
    return read_substances(registry);
}

} // namespace athanor::check
