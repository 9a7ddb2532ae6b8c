// Repairs that only hardware or a setting of the controller can be: what would have to be declared, once it is
// so.
#include "compiler/driver/recipe_text.hpp"
#include "compiler/prove/hazards.hpp"

#include <fmt/format.h>

namespace athanor::driver {
namespace {

class Fitter {
public:
    Fitter(const check::Model& model, const Compiled& compiled, const RecipeText& text, const Diagnostic& d,
           std::vector<Repair>& list)
        : model_(model), compiled_(compiled), text_(text), d_(d), rig_(model.rigs[compiled.rig]), list_(list) {}

    void run() {
        switch (d_.code) {
        case Code::no_inert_on_abort:
        case Code::abort_cools_into_flammable:
            for (const check::Line& line : rig_.lines)
                if (prove::inert_without_fuel(model_, line)) falls_open(line);
            falls_closed();
            break;
        case Code::abort_outflow_unburnt:
            falls_closed();
            if (rig_.exhaust.has_burner()) fit({"exhaust", "pilot"}, "yes");
            if (rig_.exhaust.extraction) fit({"exhaust", "into", "backup_power"}, "yes");
            break;
        case Code::abort_seals_hot_tube:
            if (rig_.exhaust.kind == check::ExhaustKind::shut) fit({"exhaust"}, "open");
            break;
        case Code::plugs_in_vacuum: fit({"ends"}, "radiation_shields { count 4 }"); break;
        case Code::supply_pressure:
            for (const check::Line& line : rig_.lines)
                if (d_.message.find("`" + line.name + "`") != std::string::npos)
                    declared({"line " + line.name});
            break;
        case Code::outlet_too_narrow:
            declared({});
            for (const check::Line& line : rig_.lines)
                if (d_.message.find("`" + line.name + "`") != std::string::npos)
                    declared({"line " + line.name});
            break;
        case Code::pump_vents_back:
        case Code::oxygen_to_pump: declared({"pump"}); break;
        case Code::power_return:
        case Code::wait_without_end:
        case Code::closed_tube_heated:
        case Code::condensation: declared({}); break;
        case Code::seals_too_hot:
            declared({});
            declared({"seals"});
            break;
        case Code::toxic_not_vented:
            declared({});
            // A burner is no answer to poison: what leaves is lean at first and at last.
            if (rig_.exhaust.extraction)
                fit({"exhaust", "into", "backup_power"}, "yes");
            else if (rig_.exhaust.has_burner())
                fit({"exhaust", "into"}, "extraction_hood { backup_power yes }");
            break;
        // Elsewhere a declaration holds measured figures (a leak, a pump's speed), and nobody can make those
        // up.
        default: break;
        }
    }

private:
    using Path = std::vector<std::string>;

    check::Hazards hazards(const check::Line& line) const {
        return line.gas < model_.gases.size() ? model_.gases[line.gas].hazards : check::Hazards{};
    }

    void fit(const Path& path, const std::string& value, Node kind = Node::rig) {
        const bool rig = kind == Node::rig;
        if (!rig && compiled_.controller >= model_.controllers.size()) return;
        const std::string& name = rig ? rig_.name : model_.controllers[compiled_.controller].name;
        const std::optional<Edit> edit = text_.property(kind, name, path, value);
        if (!edit) return;
        std::string words;
        for (const std::string& part : path) words += part + " ";
        list_.push_back(
            {fmt::format("declare `{}{}` in {} `{}`", words, value, rig ? "rig" : "controller", name), *edit,
             true});
    }

    void falls_closed() {
        for (const check::Line& line : rig_.lines)
            if (hazards(line).flammable && line.open_without_power)
                fit({"line " + line.name, "de_energised"}, "closed");
    }

    /// A valve that falls open, or a needle valve behind it that is opened further.
    void falls_open(const check::Line& line) {
        const Path path{"line " + line.name, "de_energised"};
        if (!line.open_without_power) fit(path, "open");
        const Interval flow = line.flow_without_power;
        for (double factor = 2; flow.lo > 0 && factor <= 64; factor *= 2)
            if (!line.meter.range.given || factor * flow.hi <= line.meter.range.hi())
                fit(path, fmt::format("open, {} to {}", flow_in_slm(factor * flow.lo),
                                      flow_in_slm(factor * flow.hi)));
    }

    /// "fit one and declare it:  relief 140 mbar gauge": what the finding says would have to be there.
    void declared(const Path& inside) {
        for (const std::string& remedy : d_.remedies) {
            const std::size_t mark = remedy.find("declare ");
            const std::size_t colon = mark == std::string::npos ? mark : remedy.find(": ", mark);
            if (colon == std::string::npos) continue;
            const std::string words = remedy.substr(remedy.find_first_not_of(' ', colon + 1));
            const std::size_t space = words.find(' ');
            if (space == std::string::npos) continue;
            Path path = inside;
            path.push_back(words.substr(0, space));
            const bool controller = d_.code == Code::power_return || d_.code == Code::wait_without_end;
            fit(path, words.substr(space + 1), controller ? Node::controller : Node::rig);
        }
    }

    const check::Model& model_;
    const Compiled& compiled_;
    const RecipeText& text_;
    const Diagnostic& d_;
    const check::Rig& rig_;
    std::vector<Repair>& list_;
};

} // namespace

void propose_equipment(const Session& session, const Compiled& compiled, const RecipeText& text,
                       const Diagnostic& diagnostic, std::vector<Repair>& list) {
    if (compiled.rig < session.model.rigs.size()) Fitter(session.model, compiled, text, diagnostic, list).run();
}

} // namespace athanor::driver
