// `blend 5 % hydrogen + rest argon at 200 sccm`: the flows of pure or premixed lines that give the asked gas,
// and bring no other.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <utility>

namespace athanor::elaborate {
namespace {

/// Gaussian elimination with row pivoting; false when the rows do not decide the unknowns.
bool solve(std::vector<std::vector<double>> a, std::vector<double>& x) {
    std::size_t n = a.size();
    for (std::size_t c = 0; c < n; ++c) {
        std::size_t pivot = c;
        for (std::size_t r = c; r < n; ++r)
            if (std::fabs(a[r][c]) > std::fabs(a[pivot][c])) pivot = r;
        if (std::fabs(a[pivot][c]) < 1e-12) return false;
        std::swap(a[c], a[pivot]);
        for (std::size_t r = 0; r < n; ++r) {
            if (r == c) continue;
            double f = a[r][c] / a[c][c];
            for (std::size_t k = c; k <= n; ++k) a[r][k] -= f * a[c][k];
        }
    }
    x.resize(n);
    for (std::size_t i = 0; i < n; ++i) x[i] = a[i][n] / a[i][i];
    return true;
}

/// What a line may bring beside the gases that the blend names, and how much more of it than the purest line of
/// the same gas: a grade's impurities (common practice, no source).
constexpr double impurity = 0.02, less_pure = 0.001;

/// Lines and their flows, mol/s.
struct Mix {
    std::vector<Index> lines;
    std::vector<double> flows;
    bool inside = false; // of what the meters set
};

} // namespace

/// One part of a blend.
struct BlendPart {
    Index gas = none;
    double share = 0;
    bool rest = false;
    athanor::Span span;
};

/// The lines of a rig as one blend sees them.
class BlendSources {
public:
    /// `sets`: whether a line's meter can be set to a flow.
    BlendSources(const check::Model& model, const check::Rig& rig, const std::vector<BlendPart>& parts,
                 std::function<bool(Index, double)> sets)
        : model_(model), rig_(rig), parts_(parts), sets_(std::move(sets)) {
        for (const BlendPart& part : parts)
            if (model.gases[part.gas].pure) named_.push_back(part.gas);
    }
    double share(Index line, Index gas) const {
        const Index carried = rig_.lines[line].gas;
        if (carried == gas) return 1.0;
        for (auto [part, x] : model_.gases[carried].parts)
            if (part == gas) return x.middle();
        return 0.0;
    }
    /// What the line carries beside the gases that are named, where it is used for one of them.
    std::vector<std::pair<double, Index>> beside(Index line, const BlendPart& used_for) const {
        std::vector<std::pair<double, Index>> list;
        const Index carried = rig_.lines[line].gas;
        if (used_for.gas == carried) return list;
        for (auto [part, x] : model_.gases[carried].parts)
            if (std::find(named_.begin(), named_.end(), part) == named_.end())
                list.emplace_back(x.middle(), part);
        std::sort(list.rbegin(), list.rend());
        return list;
    }
    /// Lines that carry the part's gas, richest first: a pure gas before a premix, a premix before a trace.
    /// `meant`: those that bring nothing else into the tube.
    std::vector<Index> of(const BlendPart& part, bool meant) const {
        std::vector<Index> list;
        double purest = 1;
        for (Index line = 0; line < rig_.lines.size(); ++line) {
            if (!(share(line, part.gas) > 0)) continue;
            list.push_back(line);
            purest = std::min(purest, foreign(line, part));
        }
        const double most = std::min(impurity, purest + less_pure);
        if (meant)
            list.erase(std::remove_if(list.begin(), list.end(),
                                      [&](Index line) {
                                          return foreign(line, part) > most ||
                                                 (!beside(line, part).empty() &&
                                                  model_.harmful_beside(rig_.lines[line].gas, named_));
                                      }),
                       list.end());
        std::stable_sort(list.begin(), list.end(),
                         [&](Index a, Index b) { return share(a, part.gas) > share(b, part.gas); });
        return list;
    }
    /// The first lines that give the blend within their meters; else the first that would give it at all.
    Mix find(double total) const;

private:
    double foreign(Index line, const BlendPart& used_for) const {
        double sum = 0;
        for (const auto& [x, gas] : beside(line, used_for)) sum += x;
        return sum;
    }
    bool flows(Mix& mix, double total) const;

    const check::Model& model_;
    const check::Rig& rig_;
    const std::vector<BlendPart>& parts_; // the last one takes what the others leave
    std::vector<Index> named_;            // pure ones
    std::function<bool(Index, double)> sets_;
};

bool BlendSources::flows(Mix& mix, double total) const {
    std::vector<Index> sorted = mix.lines;
    std::sort(sorted.begin(), sorted.end());
    if (std::adjacent_find(sorted.begin(), sorted.end()) != sorted.end()) return false;
    std::vector<std::vector<double>> rows;
    for (std::size_t r = 0; r < parts_.size(); ++r) {
        std::vector<double> row;
        const bool last = r + 1 == parts_.size();
        for (Index line : mix.lines) row.push_back(last ? 1.0 : share(line, parts_[r].gas));
        row.push_back(last ? total : parts_[r].share * total);
        rows.push_back(std::move(row));
    }
    if (!solve(rows, mix.flows)) return false;
    mix.inside = true;
    for (std::size_t i = 0; i < mix.lines.size(); ++i) {
        if (!(mix.flows[i] > 0)) return false;
        mix.inside = mix.inside && sets_(mix.lines[i], mix.flows[i]);
    }
    return true;
}

Mix BlendSources::find(double total) const {
    std::vector<std::vector<Index>> candidates;
    for (const BlendPart& part : parts_) candidates.push_back(of(part, true));
    Mix best;
    std::vector<std::size_t> pick(parts_.size(), 0);
    for (bool more = true; more;) {
        Mix mix;
        for (std::size_t i = 0; i < pick.size(); ++i) mix.lines.push_back(candidates[i][pick[i]]);
        if (flows(mix, total)) {
            if (mix.inside) return mix;
            if (best.lines.empty()) best = std::move(mix);
        }
        more = false;
        for (std::size_t i = 0; i < pick.size() && !more; ++i) {
            if (++pick[i] < candidates[i].size())
                more = true;
            else
                pick[i] = 0;
        }
    }
    return best;
}

namespace {

/// What a person reads back of a text of `to_text`, in SI.
double read_back(const std::string& text) {
    const std::size_t blank = text.find(' ');
    double number = 0;
    const Unit* unit = blank == std::string::npos ? nullptr : unit_named(text.substr(blank + 1));
    return unit != nullptr && parse_number(text.substr(0, blank), number) ? to_si(number, *unit) : 0;
}

} // namespace

/// A total near the one that was asked with which every meter is inside its range, and those that a person has
/// set stay as they are. Empty: there is none.
std::string Elaborator::another_total(bool keep_hand, double& scale_found) const {
    const Blended& b = *blending;
    const auto by_hand = [&](std::size_t i) {
        return !rig->lines[b.lines[i]].meter.controlled && lines_in_run[b.lines[i]].by_hand > 0;
    };
    const auto holds = [&](double scale) {
        for (std::size_t i = 0; i < b.lines.size(); ++i) {
            const double flow_ = b.flows[i] * scale, set = lines_in_run[b.lines[i]].by_hand;
            if (!meter_sets(b.lines[i], flow_)) return false;
            if (keep_hand && by_hand(i) && !reads_the_same(b.lines[i], flow_, set)) return false;
        }
        return true;
    };
    constexpr double within = 0.003; // of the range's end, so that few digits may say it
    std::vector<double> scales;
    for (std::size_t i = 0; i < b.lines.size(); ++i) {
        const check::Meter& meter = rig->lines[b.lines[i]].meter;
        if (keep_hand && by_hand(i)) scales.push_back(lines_in_run[b.lines[i]].by_hand / b.flows[i]);
        if (!meter.range.given) continue;
        for (double end : {meter.range.lo(), meter.range.lo() * (1 + within)})
            scales.push_back(end / b.flows[i]);
        for (double end : {meter.range.hi(), meter.range.hi() * (1 - within)})
            scales.push_back(end / b.flows[i]);
    }
    std::stable_sort(scales.begin(), scales.end(),
                     [](double x, double y) { return std::fabs(std::log(x)) < std::fabs(std::log(y)); });
    for (double scale : scales)
        for (int digits = 3; digits <= 6; ++digits) {
            const double total = b.total * scale;
            const bool volume = b.read_on != none;
            const double unit = volume ? rig->lines[b.read_on].meter.molar(1) : 1;
            const std::string text =
                volume ? to_text(total / unit, Kind::volume_flow, digits) : to_text(total, Kind::flow, digits);
            scale_found = read_back(text) * unit / b.total;
            if (holds(scale_found)) return text;
        }
    return {};
}

bool Elaborator::blend_parts(const Statement& s, std::vector<BlendPart>& parts) {
    double stated = 0;
    for (Index i = 0; i < s.targets; ++i) {
        const check::BlendPart& part = model.blend_parts[s.first_target + i];
        BlendPart w{model.substance_of(gas_of(part.gas)), 0, part.share == 0, part.gas.span};
        if (w.gas == none) {
            // The name may be a line's.
            Index line = line_of(part.gas);
            if (line == none) return false;
            w.gas = rig->lines[line].gas;
        }
        if (!w.rest && !number(part.share, w.share)) return false;
        stated += w.share;
        parts.push_back(w);
    }
    const auto rest = std::find_if(parts.begin(), parts.end(), [](const BlendPart& w) { return w.rest; });
    if (parts.size() < 2 || stated > 1 + 1e-9 || (rest == parts.end() && std::fabs(stated - 1) > 1e-6)) {
        if (parts.size() == 1 && (rest != parts.end() || std::fabs(stated - 1) <= 1e-6)) {
            const std::string_view gas = files.text(parts.front().span);
            const Clause* at = model.clause(s, ClauseKind::at);
            const ExprId total = at != nullptr ? at->expr : s.value;
            if (Diagnostic* d =
                    error(Code::misplaced, s.span,
                          fmt::format("a blend mixes two gases or more, and this one names `{}` alone", gas)))
                // It shuts the other lines, as a blend does.
                d->remedy(total == 0 ? fmt::format("switch to {}", gas)
                                     : fmt::format("switch to {} at {}", gas, files.text(span_of(total))))
                    .remedy("or name what is mixed into it");
            return false;
        }
        error(Code::misplaced, s.span,
              fmt::format(
                  "the parts of this blend add up to {}: name what the rest is, or parts that add up to 100 %",
                  to_text(stated, Kind::fraction)));
        return false;
    }
    // The part that is not asked for by its share: `rest`, or the last one; the total takes its row.
    if (rest != parts.end()) std::rotate(rest, rest + 1, parts.end());
    return true;
}

namespace {

std::string list_of(const check::Model& model, const std::vector<std::pair<double, Index>>& shares) {
    std::string text;
    for (const auto& [x, gas] : shares)
        text += (text.empty() ? "" : ", ") + to_text(x, Kind::fraction, 3) + " " + model.gases[gas].name;
    return text;
}

} // namespace

/// Lines that carry a gas of the blend and are not taken for it, told as causes.
void Elaborator::not_taken(Diagnostic& d, const BlendSources& sources, const BlendPart& part) const {
    const std::vector<Index> meant = sources.of(part, true);
    for (Index line : sources.of(part, false)) {
        if (std::find(meant.begin(), meant.end(), line) != meant.end()) continue;
        d.cause(fmt::format("`{}` is not taken for {}: it also brings {}, which the blend does not name ({})",
                            rig->lines[line].name, model.gases[part.gas].name,
                            list_of(model, sources.beside(line, part)), place(rig->lines[line].source)));
    }
}

void Elaborator::blend_lacks(const BlendSources& sources, const BlendPart& part) {
    const std::vector<Index> carry = sources.of(part, false);
    const std::string& gas = model.gases[part.gas].name;
    Diagnostic* d =
        error(Code::unknown_name, part.span,
              carry.empty() ? fmt::format("no line of rig `{}` carries {}", rig->name, gas)
                            : fmt::format("no line of rig `{}` carries {} without a gas that this blend does "
                                          "not name",
                                          rig->name, gas));
    if (d == nullptr) return;
    if (carry.empty()) return void(d->cause(fmt::format("the rig is declared at {}", place(rig->source))));
    not_taken(*d, sources, part);
    for (Index line : carry)
        if (model.gas_named(rig->lines[line].name) == none)
            d->remedy(fmt::format("where that is meant, name the line itself: `{}`", rig->lines[line].name));
}

/// The lines that are meant cannot be set to what the blend needs of them.
void Elaborator::blend_misses(const Statement& s, const BlendSources& sources,
                              const std::vector<BlendPart>& parts) {
    const Blended& b = *blending;
    Diagnostic* d = nullptr;
    for (std::size_t i = 0; i < b.lines.size(); ++i) {
        const Index line = b.lines[i];
        if (meter_sets(line, b.flows[i])) continue;
        const check::Line& l = rig->lines[line];
        const std::string what = fmt::format("{} of `{}`, and its meter sets {}", flow_text(line, b.flows[i]),
                                             l.name, flow_text(line, l.meter.range.value));
        if (d == nullptr) {
            d = error(Code::flow_out_of_range, b.written, "this blend needs " + what);
            if (d == nullptr) return;
        } else {
            d->cause("and it needs " + what);
        }
        d->cause(fmt::format("the meter of `{}` is declared at {}", l.name, place(l.meter.source)));
        not_taken(*d, sources, parts[i]);
    }
    if (d == nullptr) return;
    double scale = 1;
    if (const std::string total = another_total(true, scale); !total.empty())
        return void(d->remedy(rewritten(s, b.written, total)));
    const std::string total = another_total(false, scale);
    if (total.empty())
        return void(d->remedy("a line whose meter sets that, or a premix of the gases that the blend names"));
    std::string first;
    for (std::size_t i = 0; i < b.lines.size(); ++i)
        if (lines_in_run[b.lines[i]].by_hand > 0 && !rig->lines[b.lines[i]].meter.controlled)
            first += fmt::format("{}{} of `{}`", first.empty() ? "" : " and ",
                                 flow_text(b.lines[i], b.flows[i] * scale), rig->lines[b.lines[i]].name);
    d->remedy(fmt::format("{}, and {} also where it is set first in this run", rewritten(s, b.written, total),
                          first));
}

void Elaborator::blend(const Statement& s) {
    const Clause* at = model.clause(s, ClauseKind::at);
    ExprId total_expr = at != nullptr ? at->expr : s.value;
    if (total_expr == 0) {
        error(Code::value_missing, s.span, "a blend needs its total flow: `at 200 sccm`");
        blind = true;
        return;
    }
    std::vector<BlendPart> parts;
    if (!blend_parts(s, parts)) return void(blind = true);
    const BlendSources sources(model, *rig, parts,
                               [this](Index line, double x) { return meter_sets(line, x); });
    for (const BlendPart& part : parts)
        if (sources.of(part, true).empty()) {
            blend_lacks(sources, part);
            return void(blind = true);
        }
    Blended b;
    b.written = span_of(total_expr);
    const Index measure = sources.of(parts.back(), true).front();
    if (!flow(total_expr, measure, b.total)) return void(blind = true);
    if (value(total_expr).type.kind != Kind::flow) b.read_on = measure;
    Mix mix = sources.find(b.total);
    if (mix.lines.empty()) {
        error(Code::flow_out_of_range, s.span, "no flows of this rig's lines give that blend");
        return void(blind = true);
    }
    b.lines = std::move(mix.lines);
    b.flows = std::move(mix.flows);
    b.inside = mix.inside;
    blending = &b;
    if (!mix.inside) blend_misses(s, sources, parts);
    open_blend(s);
    blending = nullptr;
}

/// Inert lines first, then what opposes them closes, then the others open.
void Elaborator::open_blend(const Statement& s) {
    const Blended& b = *blending;
    leaves_open(s, b.lines);
    std::vector<std::size_t> order(b.lines.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    auto active_gas = [&](std::size_t i) {
        return model.gases[rig->lines[b.lines[i]].gas].hazards.flammable || oxidising(b.lines[i]);
    };
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t x, std::size_t y) { return !active_gas(x) && active_gas(y); });
    bool closed = false;
    auto close_others = [&] {
        if (std::exchange(closed, true)) return;
        for (Index line = 0; line < rig->lines.size(); ++line)
            if (now.open[line] && std::find(b.lines.begin(), b.lines.end(), line) == b.lines.end())
                close(s, line);
    };
    for (std::size_t i : order) {
        if (active_gas(i)) close_others();
        Index line = b.lines[i];
        if (now.open[line] && now.flows[line] == as_set(line, b.flows[i])) continue;
        open(s, line, b.flows[i], now.open[line] ? timeline::ActionKind::set : timeline::ActionKind::open);
    }
    close_others();
}

} // namespace athanor::elaborate
