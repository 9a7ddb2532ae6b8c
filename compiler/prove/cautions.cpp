#include "compiler/prove/cautions.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::prove {

std::vector<std::string> cautions(const check::Model& model, const check::Rig& rig,
                                  const timeline::Timeline& timeline) {
    bool flammable = false, oxidiser = false, toxic = false, displaces_air = false;
    for (std::size_t i = 0; i < timeline.lines.size(); ++i) {
        if (!timeline.lines[i].ever_open() || rig.lines[i].gas == check::none) continue;
        const check::Hazards& h = model.gases[rig.lines[i].gas].hazards;
        flammable = flammable || h.flammable;
        oxidiser = oxidiser || h.oxidiser;
        toxic = toxic || h.toxic;
        displaces_air = displaces_air || h.inert || h.asphyxiant || h.flammable;
    }
    bool vacuum = std::any_of(timeline.states.begin(), timeline.states.end(),
                              [](const timeline::State& s) { return s.pump; });
    double hottest = 0;
    for (const timeline::Law& law : timeline.laws) hottest = std::max({hottest, law.from, law.to});

    std::vector<std::string> list;
    list.emplace_back(
        "Athanor checks a plan against a model. It is no safety device and replaces no hardware interlock, no "
        "risk assessment, no trained supervision. Local codes and licensed practice prevail.");
    if (flammable)
        list.emplace_back(
            "Flammable gas: have the gas installation, its interlocks and the burner built and inspected by "
            "licensed people; never leave it unattended; keep ignition sources and people clear of the "
            "outlet.");
    if (oxidiser)
        list.emplace_back(
            "Oxidising gas: keep oil, grease and combustible seals away from it; it feeds any fire.");
    if (toxic)
        list.emplace_back(
            "Toxic gas: use extraction and a personal monitor; plan what happens when the extraction fails.");
    if (displaces_air)
        list.emplace_back(
            "Gas that displaces air suffocates without warning: ventilate the room and monitor its oxygen.");
    if (vacuum)
        list.emplace_back(
            "Vacuum: a hot or scratched tube may implode; wear eye protection and keep the shield in place.");
    if (hottest > 333.15)
        list.emplace_back("Hot: the tube, its ends and the load burn skin long after the programme ends; open "
                          "nothing that is "
                          "still hot or under pressure.");
    return list;
}

std::vector<std::string> assumptions(const check::Rig& rig) {
    std::vector<std::string> list{
        "the sensor reads true within its class",
        "valves, burner and pump do what the controller's outputs say",
        "each gas is what its line declares, at the set flow within the meter's error",
        "the operator did what the sheet says",
        "at the start furnace and load are at room temperature and no fuel is in the tube; after a power "
        "failure the programme is not started again from the top while the furnace is hot",
        "the rig lies inside every interval that its file declares",
        "the model's equations hold in their range (docs/model.md)",
    };
    std::string shut, open;
    for (const check::Line& line : rig.lines)
        if (line.open_without_power && line.output != 0) open += (open.empty() ? "`" : ", `") + line.name + "`";
    if (!open.empty())
        list.push_back(
            "until the first programme runs, what falls open is kept shut by hand where the recipe has it "
            "shut: " +
            open);
    for (const check::Line& line : rig.lines) {
        const auto shuts = [&](const check::Interlock& i) {
            return std::find(i.closes.begin(), i.closes.end(), line.name) != i.closes.end();
        };
        if (line.open_without_power && std::any_of(rig.interlocks.begin(), rig.interlocks.end(), shuts))
            shut += (shut.empty() ? "`" : ", `") + line.name + "`";
    }
    if (!shut.empty()) list.push_back("without power no interlock shuts what falls open: " + shut);
    if (!rig.defaulted.empty()) {
        std::string names;
        for (const std::string& name : rig.defaulted) names += (names.empty() ? "" : ", ") + name;
        list.push_back("figures taken from defaults: " + names);
    }
    return list;
}

std::vector<std::string> beforehand(const timeline::Timeline& timeline) {
    for (const timeline::Action& action : timeline.actions)
        if (action.kind == timeline::ActionKind::humidify)
            return {fmt::format("fill the bubbler's bath and bring it to {}",
                                to_text(action.value, Kind::temperature))};
    return {};
}

std::vector<std::string> concessions(const check::Model& model) {
    std::vector<std::string> list;
    for (const check::Concession& c : model.concessions)
        list.push_back(fmt::format("{}: {} (approved {})", c.rule, c.because, c.approved));
    return list;
}

} // namespace athanor::prove
