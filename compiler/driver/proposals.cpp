// What might answer a finding, from its code, the steps around its place and the rig: the best first, none
// tried.
#include "compiler/driver/sweep_words.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace athanor::driver {
namespace {

/// The rule asks 25 %: some room for rounding.
constexpr const char* little_oxygen = "dwell until oxygen < 20 %";
constexpr std::array hotter{5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 120.0, 150.0, 200.0}; // K
constexpr std::array faster{1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 8.0};

class Proposer {
public:
    Proposer(const Session& session, const Compiled& compiled, const Diagnostic& d)
        : session_(session), model_(session.model), compiled_(compiled), d_(d), text_(session, compiled),
          words_(session, compiled, text_),
          rig_(compiled.rig < model_.rigs.size() ? &model_.rigs[compiled.rig] : nullptr) {}

    std::vector<Repair> run() {
        if (d_.edit) {
            const std::string old(session_.files.text(d_.edit->span));
            list_.push_back({old.empty() ? fmt::format("write `{}` there", d_.edit->text)
                             : d_.edit->text.empty()
                                 ? fmt::format("leave out `{}`", old)
                                 : fmt::format("write `{}` in place of `{}`", d_.edit->text, old),
                             *d_.edit, false});
            step_ = text_.found() ? text_.step_at(d_.span) : no_node;
            if (d_.code == Code::cooling_beyond_furnace) by_itself();
            return std::move(list_);
        }
        step_ = text_.found() ? text_.step_at(d_.span) : no_node;
        if (step_ != no_node) around_ = text_.siblings(step_);
        recipe();
        if (rig_ != nullptr) propose_equipment(session_, compiled_, text_, d_, list_);
        return std::move(list_);
    }

private:
    using Lines = std::vector<std::string>;

    bool hazard(const check::Line& line, check::Hazard wanted) const {
        return line.gas < model_.gases.size() && model_.gases[line.gas].hazards.of(wanted);
    }
    const check::Line* inert() const { return words_.inert(); }

    // --- steps around the place -------------------------------------------------------------------

    std::size_t index() const {
        return static_cast<std::size_t>(std::find(around_.begin(), around_.end(), step_) - around_.begin());
    }
    /// The nearest sibling before the step for which `wanted` holds.
    template<typename F>
    NodeId before_step(F wanted) const {
        for (std::size_t i = index(); i-- > 0;)
            if (wanted(around_[i])) return around_[i];
        return no_node;
    }
    template<typename F>
    NodeId after_step(F wanted) const {
        for (std::size_t i = index() + 1; i < around_.size(); ++i)
            if (wanted(around_[i])) return around_[i];
        return no_node;
    }
    bool opens_flammable(NodeId id) const {
        const Node kind = text_.kind(id);
        if (kind != Node::open_line && kind != Node::switch_to && kind != Node::blend) return false;
        for (NodeId part : text_.tree().children(id)) {
            const NodeId name = text_.kind(part) == Node::name ? part : text_.tree().child(part, Node::name);
            const check::Line* line = name == no_node ? nullptr : words_.line_named(text_.text(name));
            if (line != nullptr && hazard(*line, check::Hazard::flammable)) return true;
        }
        return false;
    }
    bool clears(NodeId id) const {
        if (words_.calls_clearing(id)) return true;
        const NodeId until = text_.kind(id) == Node::dwell ? text_.tree().child(id, Node::until) : no_node;
        return until != no_node && text_.text(until).find("flammability") != std::string_view::npos;
    }
    bool goes_down(NodeId id) const {
        const Node kind = text_.kind(id);
        return kind == Node::cool || kind == Node::quench || kind == Node::close_all ||
               kind == Node::close_lines || kind == Node::evacuate;
    }

    /// Does the set-point fall in this step?
    bool cools(NodeId id) const {
        const timeline::Timeline* timeline = compiled_.elaborated.timeline.get();
        if (timeline == nullptr) return false;
        for (std::size_t i = 0; i < timeline->spans.size(); ++i) {
            if (!(timeline->spans[i].source == text_.tree().span(id))) continue;
            const timeline::Law& law = timeline->laws_of(i)[0];
            return law.kind == timeline::LawKind::off || law.to < law.from;
        }
        return false;
    }

    void add(std::string what, Edit edit, bool fits = false) {
        list_.push_back({std::move(what), std::move(edit), fits});
    }
    static std::string joined(const Lines& lines) {
        std::string text;
        for (const std::string& line : lines) text += (text.empty() ? "" : "; ") + line;
        return text;
    }
    void put_before(NodeId step, const Lines& lines) {
        if (step != no_node)
            add(fmt::format("put `{}` before line {}", joined(lines), text_.line(step)),
                text_.before(step, lines));
    }
    void put_after(NodeId step, const Lines& lines) {
        if (step != no_node)
            add(fmt::format("put `{}` after line {}", joined(lines), text_.line(step)),
                text_.after(step, lines));
    }

    // --- by code ----------------------------------------------------------------------------------

    void recipe() {
        if (step_ == no_node) return;
        switch (d_.code) {
        case Code::no_inert_purge_first: purge_first(); break;
        case Code::flammable_mixture:
            more_flow();
            if (inert() != nullptr) put_before(text_.first_step(), {words_.purge()});
            clear_before();
            break;
        case Code::cold_ends_open_to_air: more_flow(); break;
        case Code::flammable_below_ignition: hot_enough(); break;
        case Code::burner_off: burner(); break;
        case Code::opening_tube:
            move_behind_all();
            clear_before();
            break;
        case Code::wait_without_end:
            if (text_.kind(step_) == Node::wait_operator) {
                if (const NodeId open = before_step([&](NodeId id) { return opens_flammable(id); });
                    open != no_node)
                    add(fmt::format("move the wait of line {} before line {}", text_.line(step_),
                                    text_.line(open)),
                        text_.moved(step_, open, false));
                move_behind_all();
            }
            break;
        case Code::flammable_to_pump: clear_before(); break;
        case Code::flammable_left_at_end: clear_at_end(); break;
        case Code::opposing_valves:
            if (inert() != nullptr) put_before(step_, {words_.switch_over(), words_.fuel_gone()});
            break;
        case Code::oxygen_to_pump:
            if (inert() != nullptr) put_before(step_, {words_.switch_over(), little_oxygen, "close all"});
            break;
        case Code::evacuate_with_gas_open: put_before(step_, {"close all"}); break;
        case Code::air_drawn_in: keep_flowing(); break;
        case Code::cooling_beyond_furnace: by_itself(); break;
        case Code::rounding_too_coarse: longer_dwell(); break;
        case Code::requirement_violated:
        case Code::requirement_not_provable:
        case Code::expectation_violated: demand(); break;
        default: break;
        }
    }

    /// Never behind the opening: a purge there would push out the gas that the recipe wants.
    void purge_first() {
        if (inert() == nullptr) return;
        if (!opens_flammable(step_) && before_step([&](NodeId id) { return opens_flammable(id); }) != no_node) {
            put_before(text_.first_step(), {words_.inert_purge()});
            return;
        }
        put_before(text_.first_step(), {words_.inert_purge()});
        put_before(text_.first_step(), {words_.purge()});
        put_before(step_, {words_.purge()});
        put_before(step_, {words_.switch_over(), "dwell until " + words_.air_gone()});
    }

    void clear_before() {
        if (inert() == nullptr) return;
        // Shut already: the gas must be exchanged while it can still be swept out.
        const std::size_t at = index();
        for (std::size_t back = 1; back <= 2 && back <= at; ++back)
            if (goes_down(around_[at - back])) put_before(around_[at - back], words_.clear());
        put_before(step_, words_.clear());
    }

    void clear_at_end() {
        if (inert() == nullptr || around_.empty()) return;
        const bool lit =
            before_step([&](NodeId id) { return text_.kind(id) == Node::light_burner; }) != no_node;
        const bool shut = !text_.all({Node::shut_burner}).empty();
        Lines lines = words_.clear();
        if (lit && !shut) lines.emplace_back("shut burner");
        const NodeId cool = after_opening([&](NodeId id) { return goes_down(id); });
        put_after(around_.back(), lines);
        put_before(cool, words_.clear());
        put_before(step_, words_.clear());
    }

    template<typename F>
    NodeId after_opening(F wanted) const {
        bool open = false;
        for (NodeId id : text_.steps()) {
            open = open || opens_flammable(id);
            if (open && wanted(id)) return id;
        }
        return no_node;
    }

    void move_behind_all() {
        if (text_.kind(step_) != Node::wait_operator || around_.empty() || around_.back() == step_) return;
        add(fmt::format("move the wait of line {} behind line {}", text_.line(step_),
                        text_.line(around_.back())),
            text_.moved(step_, around_.back(), true));
    }

    void hot_enough() {
        const bool opening = opens_flammable(step_);
        const NodeId open = opening ? step_ : before_step([&](NodeId id) { return opens_flammable(id); });
        if (goes_down(step_) || cools(step_)) {
            if (inert() != nullptr) {
                put_before(step_, {words_.fuel_gone()});
                put_before(step_, words_.clear());
            }
        }
        if (open == no_node) return;
        // The load lags behind a ramp; a band waits for it.
        for (const char* hold : {"dwell 15 min within 5 K", "dwell 30 min within 5 K", "dwell 1 h within 5 K"})
            put_before(open, {hold});
        raise_before(open);
    }

    /// A higher target of the last step that sets one before the gas opens.
    void raise_before(NodeId open) {
        const Tree& tree = text_.tree();
        NodeId target = no_node;
        for (NodeId id : around_) {
            if (id == open) break;
            const Node kind = text_.kind(id);
            if (kind != Node::ramp && kind != Node::heat && kind != Node::cool && kind != Node::step_to)
                continue;
            const NodeId zone = tree.child(id, Node::zone_target);
            target = zone == no_node ? no_node : tree.child(zone, Node::quantity);
        }
        if (target == no_node) return;
        const NodeId number = tree.child(target, Node::number), unit = tree.child(target, Node::unit);
        double value = 0;
        if (number == no_node || unit == no_node || !parse_number(text_.text(number), value)) return;
        const athanor::Unit* known = unit_named(text_.text(unit));
        if (known == nullptr) return;
        for (double more : hotter) {
            // To a whole 5 of the recipe's own unit.
            const double raised = std::ceil((value + more / known->factor) / 5 - 1e-9) * 5;
            add(fmt::format("raise line {} to {} {}", text_.line(target), shortest(raised), text_.text(unit)),
                text_.replace(number, shortest(raised)));
        }
    }

    void burner() {
        if (rig_ == nullptr || !rig_->exhaust.has_burner()) return;
        const auto lights = [&](NodeId id) { return text_.kind(id) == Node::light_burner; };
        if (!opens_flammable(step_)) {
            const NodeId shut = before_step([&](NodeId id) { return text_.kind(id) == Node::shut_burner; });
            put_before(shut, {words_.fuel_gone()});
            if (shut != no_node && inert() != nullptr) put_before(shut, words_.clear());
        }
        const NodeId open =
            opens_flammable(step_) ? step_ : before_step([&](NodeId id) { return opens_flammable(id); });
        if (open == no_node) return;
        if (before_step(lights) != no_node) put_before(open, {words_.burner_burns()});
        std::vector<Edit> edits;
        const NodeId hold = before_step([&](NodeId id) { return text_.kind(id) == Node::dwell; });
        const NodeId last = after_step([&](NodeId id) { return clears(id); });
        const bool shuts = !text_.all({Node::shut_burner}).empty();
        for (const NodeId at : {hold, open}) {
            if (at == no_node) continue;
            Lines lines{"light burner"};
            if (at == open) lines.emplace_back(words_.burner_burns());
            edits = {text_.before(at, lines)};
            std::string what = fmt::format("put `{}` before line {}", joined(lines), text_.line(at));
            if (last != no_node && !shuts) {
                edits.push_back(text_.after(last, {"shut burner"}));
                what += fmt::format(" and `shut burner` after line {}", text_.line(last));
            }
            add(std::move(what), text_.merged(std::move(edits)));
        }
    }

    /// Every literal flow of a line by one factor: a hand meter keeps one setting.
    void scale(const check::Line& line) {
        const std::vector<NodeId> flows = words_.flows_of(line);
        if (flows.empty()) return;
        const Tree& tree = text_.tree();
        for (double factor : faster) {
            std::vector<Edit> edits;
            bool fits = true;
            for (NodeId flow : flows) {
                const NodeId number = tree.child(flow, Node::number), unit = tree.child(flow, Node::unit);
                double value = 0;
                if (number == no_node || unit == no_node || !parse_number(text_.text(number), value)) return;
                const athanor::Unit* known = unit_named(text_.text(unit));
                if (known == nullptr) return;
                const double raised = value * factor;
                const bool amount = known->kind == Kind::flow;
                fits = fits &&
                       (!amount || !line.meter.range.given || to_si(raised, *known) <= line.meter.range.hi());
                edits.push_back(text_.replace(number, shortest(std::round(raised * 1e6) / 1e6)));
            }
            if (fits)
                add(fmt::format("{} times as much {}", shortest(factor), line.name),
                    text_.merged(std::move(edits)));
        }
    }

    void more_flow() {
        if (rig_ == nullptr) return;
        if (inert() != nullptr && d_.message.find("oxygen") != std::string::npos) purge_first();
        for (const check::Line& line : rig_->lines)
            if (hazard(line, check::Hazard::flammable)) scale(line);
        if (inert() != nullptr) scale(*inert());
    }

    /// Shut the gas after the cooling, or open it again before.
    void keep_flowing() {
        const std::size_t at = index();
        if (at > 0 && at < around_.size() &&
            (text_.kind(around_[at - 1]) == Node::close_lines ||
             text_.kind(around_[at - 1]) == Node::close_all))
            add(fmt::format("move line {} behind line {}", text_.line(around_[at - 1]), text_.line(step_)),
                text_.moved(around_[at - 1], step_, true));
        if (inert() != nullptr) put_before(step_, {fmt::format("open {} at {}", inert()->name, words_.flow())});
    }

    /// A cooling without a rate takes as long as the furnace needs.
    void by_itself() {
        if (step_ == no_node || text_.kind(step_) != Node::cool) return;
        const Tree& tree = text_.tree();
        const NodeId target = tree.child(step_, Node::zone_target), rate = tree.child(step_, Node::at);
        if (target == no_node || rate == no_node) return;
        add("cool without a rate", {{tree.file, tree[target].end, tree[rate].end}, ""});
    }

    /// "dwell 1 min" in place of a shorter one.
    void longer_dwell() {
        const NodeId time =
            text_.kind(step_) == Node::dwell ? text_.tree().child(step_, Node::quantity) : no_node;
        for (const std::string& remedy : d_.remedies)
            if (time != no_node && remedy.starts_with("dwell ")) {
                const std::string hold = remedy.substr(6, remedy.find(" within ") - 6);
                add("hold for " + hold, text_.replace(time, hold));
            }
    }

    /// A demand on the gas is met by waiting for it, or by a purge.
    void demand() {
        const Tree& tree = text_.tree();
        const Node kind = text_.kind(step_);
        if (kind != Node::require && kind != Node::expect) return;
        const NodeId condition = tree.child(step_, 0U);
        if (condition == no_node) return;
        const std::string wanted(text_.text(condition));
        const NodeId doubtful = d_.related.empty() ? no_node : text_.step_at(d_.related.front().span);
        put_before(kind == Node::expect ? step_ : doubtful, {"dwell until " + wanted});
        if (inert() == nullptr) return;
        put_before(text_.first_step(), {words_.purge(wanted)});
        put_before(kind == Node::expect ? step_ : doubtful, {words_.purge(wanted)});
        if (kind == Node::require) put_before(step_, {words_.purge(wanted)});
    }

    const Session& session_;
    const check::Model& model_;
    const Compiled& compiled_;
    const Diagnostic& d_;
    RecipeText text_;
    SweepWords words_;
    const check::Rig* rig_;
    NodeId step_ = no_node;
    std::vector<NodeId> around_;
    std::vector<Repair> list_;
};

} // namespace

std::vector<Repair> proposals(const Attempt& found, const Diagnostic& diagnostic) {
    static const Compiled none;
    const Session& session = *found.session;
    if (found.recipes.empty() || (diagnostic.edit && group(diagnostic.code) == Group::text))
        return Proposer(session, none, diagnostic).run();
    std::vector<Repair> list;
    for (const Compiled& compiled : found.recipes) {
        if (compiled.proven) continue;
        for (Repair& one : Proposer(session, compiled, diagnostic).run()) list.push_back(std::move(one));
    }
    return list;
}

} // namespace athanor::driver
