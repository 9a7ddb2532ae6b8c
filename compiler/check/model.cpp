#include "compiler/check/model.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::check {

NameId Names::intern(std::string_view text) {
    if (text.empty()) return 0;
    if (auto found = ids_.find(text); found != ids_.end()) return found->second;
    store_.push_back(std::make_unique<std::string>(text));
    const std::string_view kept = *store_.back();
    texts_.push_back(kept);
    const auto id = static_cast<NameId>(texts_.size() - 1);
    ids_.emplace(kept, id);
    return id;
}

namespace {

template<class List>
Index named(const List& list, std::string_view name) {
    for (std::size_t i = 0; i < list.size(); ++i)
        if (list[i].name == name) return static_cast<Index>(i);
    return none;
}

} // namespace

bool Model::conceded(std::string_view rule) const {
    return std::any_of(concessions.begin(), concessions.end(),
                       [&](const Concession& c) { return c.rule == rule; });
}

Index Model::gas_named(std::string_view name) const {
    return named(gases, name);
}
bool Model::delivers(Index carried, Index asked) const {
    if (carried == none || asked == none) return false;
    if (carried == asked) return true;
    if (!gases[asked].pure) return false;
    asked = substance_of(asked);
    // Above what a grade leaves in (our choice, no source) it is another gas: air and forming gas are no
    // nitrogen, and a shielding gas with carbon dioxide is no argon.
    constexpr double left_in = 0.02;
    for (const auto& [part, share] : gases[carried].parts)
        if (part == asked && share.lo > 1 - left_in) return !harmful_beside(carried, {&asked, 1});
    return false;
}

std::vector<Index> Model::lines_named(const Rig& rig, std::string_view name) const {
    std::vector<Index> found;
    const Index gas = gas_named(name);
    for (Index line = 0; line < rig.lines.size(); ++line) {
        if (rig.lines[line].name == name) return {line};
        if (delivers(rig.lines[line].gas, gas)) found.push_back(line);
    }
    own_gas_first(rig, gas, found);
    return found;
}

void Model::own_gas_first(const Rig& rig, Index gas, std::vector<Index>& lines) const {
    if (gas == none) return;
    const bool renamed = substance_of(gas) != gas;
    std::vector<Index> own;
    for (const Index line : lines) {
        const Index carried = rig.lines[line].gas;
        if (renamed ? carried == gas : substance_of(carried) == carried) own.push_back(line);
    }
    if (!own.empty()) lines = own;
}

std::string Model::which_of(const Rig& rig, const std::vector<Index>& lines, std::string_view name) {
    std::string several;
    for (const Index line : lines)
        several += fmt::format("{}`{}`", several.empty() ? "" : ", ", rig.lines[line].name);
    return fmt::format("`{}` could be any of the lines {} of rig `{}`: name the line", name, several, rig.name);
}

bool Model::harmful_beside(Index carried, std::span<const Index> named) const {
    double breathed = 0; // of the limits
    for (const auto& [part, share] : gases[carried].parts) {
        const Gas& gas = gases[part];
        if (!gas.hazards.toxic || !(share.hi > 0)) continue;
        if (std::find(named.begin(), named.end(), part) != named.end()) continue;
        if (!gas.exposure_limit.given) return true;
        breathed += share.hi / gas.exposure_limit.lo();
    }
    return breathed > 1;
}

Index Model::rig_named(std::string_view name) const {
    return named(rigs, name);
}
Index Model::controller_named(std::string_view name) const {
    return named(controllers, name);
}

Index Model::recipe_named(std::string_view name) const {
    for (std::size_t i = 0; i < recipes.size(); ++i)
        if (names[recipes[i].name] == name) return static_cast<Index>(i);
    return none;
}

} // namespace athanor::check
