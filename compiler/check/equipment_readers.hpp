#pragma once
#include "compiler/check/equipment_block.hpp"

/// One reader per kind of declaration: matched properties to the typed model. Private to the equipment part.
namespace athanor::check {

/// What the readers share.
struct Reading {
    Registry& registry;
    Model& model;

    Diagnostics& out() const { return registry.out; }
    /// Index of a named declaration in the model, `none` when unknown (reported).
    Index resolve(Node kind, const Property* property, const Capture* name) const;
    /// Something names this material or thermocouple: the model has it whole.
    void complete(Declaration& declaration) const;
    void complete(Node kind, Index index) const;
};

void read_equipment(const Reading& reading, Library library);
void read_gases(const Reading& reading);
std::vector<Gas> read_substances(Registry& registry);
Material read_material(const Reading& reading, const Declared& declared);
Thermocouple read_thermocouple(const Reading& reading, const Declared& declared);
/// Also fills the rig's `defaults`.
Rig read_rig(const Reading& reading, Declared& declared, Defaults& defaults);
Defaults read_rig_defaults(const Reading& reading, Index unit, NodeId node, const Rig& rig);
/// What the parts of a rig say about each other.
void check_rig(const Reading& reading, const Declared& declared, const Rig& rig);
program::Controller read_controller(const Reading& reading, const Declared& declared);

} // namespace athanor::check
