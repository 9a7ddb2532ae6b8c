#include "compiler/driver/ranges.hpp"

#include "compiler/check/evaluate.hpp"
#include "compiler/check/one_way.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/elaborate/range.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::driver {
namespace {

constexpr unsigned most_halvings = 8;     // of one box: a piece is then 1/256 of a range
constexpr std::size_t most_boxes = 600;   // looked at for one recipe
constexpr std::size_t most_corners = 32;  // of a box: five ranges at once
constexpr std::size_t most_choices = 256; // combinations of lists and counts

using Values = std::vector<std::pair<std::string, check::Value>>;

/// A parameter that may take more than one value.
struct Axis {
    std::string name;
    std::size_t parameter; // which of the recipe's
    athanor::Type type;
    std::vector<check::Value> choices; // a list, or the counts of a range; empty: a range
    Interval range;
    std::vector<double> cuts; // where a comparison changes its answer

    bool ranged() const { return choices.empty(); }
};

struct Box {
    std::vector<Interval> sides; // one per range axis
    unsigned halvings = 0;
};

/// What was found of one box.
struct Finding {
    bool holds = false;
    Diagnostics said;
    std::string why; // it does not hold though `said` has no error
};

/// Behind what differs between the corners of a range.
constexpr std::string_view not_the_same = " is not the same for all of them";

class Ranges {
public:
    Ranges(Session& session, check::Index recipe, const Options& options, Thorough thorough)
        : session_(session), model_(session.model), recipe_(recipe), options_(options), thorough_(thorough) {}

    bool run() {
        if (!read_axes()) return false;
        if (axes_.empty()) return true;
        if (!ends_hold()) return false;
        if (any_range()) {
            const check::OneWay one_way = follow();
            if (one_way.fault != check::OneWay::Fault::none) {
                tell_turning(one_way);
                return false;
            }
            for (Axis& axis : axes_)
                if (axis.ranged()) axis.cuts = one_way.cuts[axis.parameter];
        }
        return choices(0, {});
    }

private:
    const check::Recipe& recipe() const { return model_.recipes[recipe_]; }
    bool any_range() const {
        return std::any_of(axes_.begin(), axes_.end(), [](const Axis& a) { return a.ranged(); });
    }

    /// What a parameter may be must be known before any has a value.
    bool depends(const check::Parameter& p) {
        if (!session_.out.any_error())
            session_.out
                .error(Code::requirement_not_provable, p.span,
                       fmt::format(
                           "what `{}` may be depends on another parameter, so not every value can be tried",
                           model_.names[p.name]))
                .remedy(
                    fmt::format("state its values in numbers, or give one: --set {}=…", model_.names[p.name]));
        return false;
    }

    bool read_axes() {
        std::size_t combinations = 1;
        check::Frame frame;
        for (std::size_t i = 0; i < recipe().parameters.size(); ++i) {
            const check::Parameter& p = recipe().parameters[i];
            if (!p.used) continue; // every value gives the same run
            Axis axis{std::string(model_.names[p.name]), i, p.type, {}, {}, {}};
            const bool set = std::any_of(session_.sets.begin(), session_.sets.end(),
                                         [&](const auto& given) { return given.first == axis.name; });
            if (set) continue; // --set proves the value given
            const auto value = [&](check::ExprId e) { return check::evaluate(model_, e, frame, session_.out); };
            if (p.list != 0) {
                const check::Expr& list = model_.exprs[p.list];
                for (check::Index k = 0; k < list.count; ++k) {
                    check::Value v = value(model_.arguments[list.first + k]);
                    if (v.poison()) return depends(p);
                    axis.choices.push_back(std::move(v));
                }
            } else if (p.lo != 0 && p.hi != 0) {
                const check::Value lo = value(p.lo), hi = value(p.hi);
                if (lo.poison() || hi.poison()) return depends(p);
                axis.range = {lo.number.lo, hi.number.hi};
                for (const double n : check::counts_of(model_, p, frame, most_choices, session_.out))
                    axis.choices.push_back({p.type, n, check::none, {}});
                if (axis.choices.empty() && axis.range.lo == axis.range.hi) continue;
            } else {
                continue;
            }
            if (!axis.choices.empty()) combinations *= axis.choices.size();
            axes_.push_back(std::move(axis));
        }
        if (combinations > most_choices ||
            std::size_t{1} << std::count_if(axes_.begin(), axes_.end(), [](const Axis& a) {
                return a.ranged();
            }) > most_corners) {
            session_.out
                .error(Code::too_large, recipe().span,
                       "the parameters may take too many values together to prove all")
                .remedy(fmt::format(
                    "give some of them: at most {} combinations of lists and counts, and {} ranges, are "
                    "proven at once",
                    most_choices, static_cast<int>(std::log2(most_corners))));
            return false;
        }
        return true;
    }

    /// What each parameter may be, and the way that every number goes with those that have a range.
    check::OneWay follow() {
        check::Frame values;
        std::vector<bool> ranged;
        const auto& ambient = model_.rigs[rig()].ambient_pressure;
        values.ambient_pressure = ambient.value;
        values.has_ambient = ambient.given;
        Diagnostics unheard; // told when the ends were tried
        for (std::size_t i = 0; i < recipe().parameters.size(); ++i) {
            const auto axis =
                std::find_if(axes_.begin(), axes_.end(), [&](const Axis& a) { return a.parameter == i; });
            const bool range = axis != axes_.end() && axis->ranged();
            ranged.push_back(range);
            check::Value value;
            if (range)
                value = {axis->type, axis->range, check::none, {}};
            else if (axis != axes_.end())
                value = all_of(axis->choices);
            else
                value = check::evaluate(model_, given(i), check::Frame{}, unheard);
            values.slots.push_back(std::move(value));
        }
        return check::one_way(model_, recipe(), values, ranged, &model_.rigs[rig()]);
    }

    /// What a parameter is that may be one value only: of `--set`, or its default.
    check::ExprId given(std::size_t parameter) const {
        const check::Parameter& p = recipe().parameters[parameter];
        for (const auto& [name, value] : session_.sets)
            if (name == model_.names[p.name]) return value;
        return p.default_value;
    }

    /// Poison where choices are no numbers: each is tried alone.
    static check::Value all_of(const std::vector<check::Value>& choices) {
        if (!choices.front().type.quantity()) return {};
        check::Value all = choices.front();
        for (const check::Value& one : choices) all.number = hull(all.number, one.number);
        return all;
    }

    void tell_turning(const check::OneWay& why) {
        using Fault = check::OneWay::Fault;
        std::string what = "this value may turn inside the range of a parameter";
        std::string remedy =
            "let each value depend on one parameter, by sums and by factors that are fixed numbers";
        if (why.fault == Fault::decides) {
            what = "what this decides may change inside the range of a parameter";
            remedy = "compare the parameter itself with a fixed number: the range is then cut there";
        } else if (why.fault == Fault::length) {
            what = "the values of this line together may turn inside the range of a parameter";
            remedy = "let only one of them depend on the parameter, or all by sums and fixed factors";
        } else if (why.fault == Fault::lines) {
            what = "which lines give this blend may change inside the range of a parameter";
            remedy = "state the flow of each line: `open LINE at FLOW`";
        }
        session_.out
            .error(Code::requirement_not_provable, why.span,
                   what + ", so the range cannot be proven from its ends")
            .remedy(remedy)
            .remedy("or prove single values: --set, or a list  in [a, b]");
    }

    /// Each end and each choice alone, through the legaliser too: whether the controller can hold it.
    bool ends_hold() {
        bool good = true;
        for (const check::Parameter& p : recipe().parameters) {
            const std::string name(model_.names[p.name]);
            if (std::none_of(axes_.begin(), axes_.end(), [&](const Axis& a) { return a.name == name; }))
                continue;
            std::vector<check::ExprId> values;
            if (p.list != 0)
                for (check::Index k = 0; k < model_.exprs[p.list].count; ++k)
                    values.push_back(model_.arguments[model_.exprs[p.list].first + k]);
            else
                values = {p.lo, p.hi};
            for (const check::ExprId value : values) {
                Diagnostics out;
                auto sets = session_.sets;
                sets.emplace_back(name, value);
                const bool proven =
                    compile(session_, recipe_, options_, sets, out, legalise::Texts::none).proven;
                const std::string which =
                    fmt::format("with {} = {}", name, session_.files.text(model_.exprs[value].span));
                hear(out, which);
                if (proven) continue;
                good = false;
                tell(out, which);
                if (thorough_ == Thorough::no) return false;
            }
        }
        return good;
    }

    /// The first error, and for which values.
    void tell(const Diagnostics& out, const std::string& values) {
        for (const Diagnostic& d : out.all())
            if (d.severity == Severity::error) {
                session_.out.add(d).cause(values);
                return;
            }
    }

    /// Warnings that the values taken for the summary do not bring.
    void hear(const Diagnostics& out, const std::string& values) {
        for (const Diagnostic& d : out.all()) {
            const auto same = [&](const Diagnostic& told) {
                return told.code == d.code && told.span.file == d.span.file && told.span.begin == d.span.begin;
            };
            const std::deque<Diagnostic>& told = session_.out.all();
            if (d.severity == Severity::warning && std::none_of(told.begin(), told.end(), same))
                session_.out.add(d).cause(values);
        }
    }

    bool choices(std::size_t at, Values values) {
        while (at < axes_.size() && axes_[at].ranged()) ++at;
        if (at == axes_.size()) return keyed(values) && boxes(values);
        bool good = true;
        for (const check::Value& choice : axes_[at].choices) {
            Values with = values;
            with.emplace_back(axes_[at].name, choice);
            good = choices(at + 1, std::move(with)) && good;
            if (!good && thorough_ == Thorough::no) break;
        }
        return good;
    }

    /// A combination of choices through the legaliser too, the ranges all at one end: whether the controller
    /// can hold it.
    bool keyed(const Values& values) {
        for (const bool high : {false, true}) {
            Values all = values;
            bool ranges = false;
            for (const Axis& axis : axes_) {
                if (!axis.ranged()) continue;
                ranges = true;
                const double end = high ? axis.range.hi : axis.range.lo;
                all.emplace_back(axis.name, check::Value{axis.type, end, check::none, {}});
            }
            Diagnostics out;
            const bool proven =
                compile_at(session_, recipe_, options_, with_sets(all, out), out, {}, legalise::Texts::none)
                    .proven;
            std::string where;
            for (const auto& [name, value] : all) add_value(where, name, value);
            hear(out, "with " + where);
            if (!proven) {
                tell(out, "with " + where);
                return false;
            }
            if (!ranges) break;
        }
        return true;
    }

    Values with_sets(Values values, Diagnostics& out) const {
        for (const auto& [name, expr] : session_.sets)
            values.emplace_back(name, check::evaluate(model_, expr, check::Frame{}, out));
        return values;
    }

    void add_value(std::string& where, const std::string& name, const check::Value& value) const {
        where += fmt::format("{}{} = {}", where.empty() ? "" : ", ", name, shown(value));
    }

    bool boxes(const Values& values) {
        if (!any_range()) return true; // one rig, one process: it was keyed, and proven as it is keyed
        std::vector<Box> todo = between_cuts();
        Finding first;
        std::vector<Interval> failing;
        while (!todo.empty()) {
            const Box box = std::move(todo.back());
            todo.pop_back();
            Finding found;
            if (++looked_ <= most_boxes)
                found = judge(box, values);
            else
                found.why = "too many pieces of the range had to be looked at";
            if (found.holds || (looked_ <= most_boxes && halve(box, todo))) continue;
            if (failing.empty()) {
                failing = box.sides;
                first = std::move(found);
            }
            for (std::size_t k = 0; k < failing.size(); ++k) failing[k] = hull(failing[k], box.sides[k]);
            if (thorough_ == Thorough::no) break;
        }
        if (failing.empty()) return true;
        report(first, failing, values);
        return false;
    }

    /// All values as boxes in which each comparison has one answer; a cut itself is a box of its own.
    std::vector<Box> between_cuts() const {
        std::vector<Box> boxes{Box{}};
        for (const Axis& axis : axes_) {
            if (!axis.ranged()) continue;
            std::vector<Interval> sides;
            double from = axis.range.lo;
            for (const double cut : axis.cuts) {
                if (cut < from || cut > axis.range.hi) continue;
                if (cut > from) sides.emplace_back(from, std::nextafter(cut, -infinity));
                sides.emplace_back(cut);
                from = std::nextafter(cut, infinity);
            }
            if (from <= axis.range.hi) sides.emplace_back(from, axis.range.hi);
            std::vector<Box> next;
            for (const Box& box : boxes)
                for (const Interval& side : sides) {
                    next.push_back(box);
                    next.back().sides.push_back(side);
                }
            boxes = std::move(next);
        }
        return boxes;
    }

    /// Two boxes in place of one, parted at the side that is widest for its range, the lower one to be looked
    /// at first. False: it is small enough already.
    bool halve(const Box& box, std::vector<Box>& todo) const {
        std::size_t widest = 0, k = 0;
        double width = 0;
        for (const Axis& axis : axes_) {
            if (!axis.ranged()) continue;
            const double share = box.sides[k].width() / axis.range.width();
            if (share > width) width = share, widest = k;
            ++k;
        }
        if (box.halvings >= most_halvings || !(width > 0)) return false;
        Box low = box, high = box;
        low.sides[widest].hi = high.sides[widest].lo = box.sides[widest].middle();
        low.halvings = high.halvings = box.halvings + 1;
        todo.push_back(high);
        todo.push_back(low);
        return true;
    }

    /// `first`: of the first box that fails; `failing`: the hull of all of them.
    void report(const Finding& first, const std::vector<Interval>& failing, const Values& values) {
        std::string where;
        for (const auto& [name, value] : values) add_value(where, name, value);
        std::size_t k = 0;
        for (const Axis& axis : axes_) {
            if (!axis.ranged()) continue;
            const Interval side = failing[k++];
            where += fmt::format("{}{} from {} to {}", where.empty() ? "" : ", ", axis.name,
                                 to_text(side.lo, axis.type), to_text(side.hi, axis.type));
        }
        if (first.said.any_error()) return tell(first.said, "not proven for " + where);
        Diagnostic& d =
            session_.out
                .error(Code::requirement_not_provable, recipe().span, "the recipe is not proven for " + where)
                .cause(first.why);
        if (first.why.ends_with(not_the_same))
            d.remedy("where a value makes a step vanish or turn round, begin the range beside it, or give the "
                     "values around it steps of their own, as for 600 °C:  if x > 601 degC { … } else { if x < "
                     "599 degC "
                     "{ … } else { dwell 1 min } }");
    }

    std::string shown(const check::Value& value) const {
        if (value.type.kind == Kind::gas && value.index != check::none) return model_.gases[value.index].name;
        if (value.type.kind == Kind::text && value.index != check::none) return model_.texts[value.index];
        return to_text(value.number, value.type);
    }

    Finding judge(const Box& box, const Values& values) {
        Finding found;
        std::vector<elaborate::Elaborated> corners;
        const check::Index controller = session_.controller(options_, recipe_);
        const std::size_t count = std::size_t{1} << box.sides.size();
        for (std::size_t corner = 0; corner < count; ++corner) {
            elaborate::Request request{recipe_, rig(), with_sets(values, found.said), controller};
            request.corner = true;
            std::size_t k = 0;
            for (const Axis& axis : axes_) {
                if (!axis.ranged()) continue;
                const double end = (corner >> k & 1) != 0 ? box.sides[k].hi : box.sides[k].lo;
                request.values.emplace_back(axis.name, check::Value{axis.type, end, check::none, {}});
                ++k;
            }
            corners.push_back(elaborate::elaborate(model_, request, session_.files, found.said));
            if (!corners.back().complete || found.said.any_error()) return found;
        }
        std::vector<const elaborate::Elaborated*> all;
        for (const elaborate::Elaborated& corner : corners) all.push_back(&corner);
        elaborate::Range range = elaborate::join(all);
        if (range.timeline == nullptr) {
            found.why = range.differs + std::string(not_the_same);
            return found;
        }
        const check::Rig& machine = model_.rigs[rig()];
        const plant::Plant plant(model_, machine, *range.timeline);
        if (!elaborate::settle(*range.timeline, plant, found.why)) return found;
        found.holds = prove::prove(model_, machine, *range.timeline, plant, session_.files, found.said,
                                   controller == check::none ? nullptr : &model_.controllers[controller])
                          .proven;
        return found;
    }

    check::Index rig() const {
        const check::Index chosen = session_.rig(options_);
        return chosen == check::none ? recipe().rig_index : chosen;
    }

    Session& session_;
    const check::Model& model_;
    check::Index recipe_;
    const Options& options_;
    const Thorough thorough_;
    std::vector<Axis> axes_;
    std::size_t looked_ = 0;
};

} // namespace

bool ranges_hold(Session& session, check::Index recipe, const Options& options, Thorough thorough) {
    return Ranges(session, recipe, options, thorough).run();
}

} // namespace athanor::driver
