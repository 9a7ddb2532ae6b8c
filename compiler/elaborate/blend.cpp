// `blend 5 % hydrogen + rest argon at 200 sccm`: the flows of pure or premixed lines that give the asked gas.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
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

} // namespace

void Elaborator::blend(const Statement& s) {
    const Clause* at = model.clause(s, ClauseKind::at);
    ExprId total_expr = at != nullptr ? at->expr : s.value;
    if (total_expr == 0) {
        error(Code::value_missing, s.span, "a blend needs its total flow: `at 200 sccm`");
        blind = true;
        return;
    }
    struct Wanted {
        Index gas = none;
        double share = 0;
        bool rest = false;
        athanor::Span span;
    };
    std::vector<Wanted> wanted;
    double stated = 0;
    for (Index i = 0; i < s.targets; ++i) {
        const check::BlendPart& part = model.blend_parts[s.first_target + i];
        Wanted w{gas_of(part.gas), 0, part.share == 0, part.gas.span};
        if (w.gas == none) {
            // The name may be a line's.
            Index line = line_of(part.gas);
            if (line == none) return void(blind = true);
            w.gas = rig->lines[line].gas;
        }
        if (!w.rest && !number(part.share, w.share)) return;
        stated += w.share;
        wanted.push_back(w);
    }
    bool has_rest = std::any_of(wanted.begin(), wanted.end(), [](const Wanted& w) { return w.rest; });
    if (wanted.size() < 2 || stated > 1 + 1e-9 || (!has_rest && std::fabs(stated - 1) > 1e-6)) {
        error(Code::misplaced, s.span,
              fmt::format(
                  "the parts of this blend add up to {}: name what the rest is, or parts that add up to 100 %",
                  to_text(stated, Kind::fraction)));
        blind = true;
        return;
    }
    // The part that is not asked for by its share: `rest`, or the last one; the total takes its row.
    auto balance = std::find_if(wanted.begin(), wanted.end(), [](const Wanted& w) { return w.rest; });
    std::rotate(balance == wanted.end() ? wanted.end() : balance,
                balance == wanted.end() ? wanted.end() : balance + 1, wanted.end());

    auto share_in = [&](Index line, Index gas) {
        Index carried = rig->lines[line].gas;
        if (carried == gas) return 1.0;
        for (auto [part, x] : model.gases[carried].parts)
            if (part == gas) return x.middle();
        return 0.0;
    };
    std::vector<std::vector<Index>> candidates(wanted.size());
    for (std::size_t i = 0; i < wanted.size(); ++i) {
        for (Index line = 0; line < rig->lines.size(); ++line)
            if (share_in(line, wanted[i].gas) > 0) candidates[i].push_back(line);
        if (candidates[i].empty()) {
            if (Diagnostic* d = error(
                    Code::unknown_name, wanted[i].span,
                    fmt::format("no line of rig `{}` carries {}", rig->name, model.gases[wanted[i].gas].name)))
                d->cause(fmt::format("the rig is declared at {}", place(rig->source)));
            blind = true;
            return;
        }
        // Richest first: a pure gas before a premix, a premix before a trace.
        std::stable_sort(candidates[i].begin(), candidates[i].end(), [&](Index a, Index b) {
            return share_in(a, wanted[i].gas) > share_in(b, wanted[i].gas);
        });
    }
    double total = 0;
    if (!flow(total_expr, candidates.back().front(), total)) return void(blind = true);

    std::vector<std::size_t> pick(wanted.size(), 0);
    std::vector<double> best;
    std::vector<Index> best_lines;
    bool fits = false;
    for (bool more = true; more && !fits;) {
        std::vector<Index> lines;
        for (std::size_t i = 0; i < wanted.size(); ++i) lines.push_back(candidates[i][pick[i]]);
        std::vector<Index> sorted = lines;
        std::sort(sorted.begin(), sorted.end());
        if (std::adjacent_find(sorted.begin(), sorted.end()) == sorted.end()) {
            std::vector<std::vector<double>> rows;
            for (std::size_t r = 0; r < wanted.size(); ++r) {
                std::vector<double> row;
                bool last = r + 1 == wanted.size();
                for (Index line : lines) row.push_back(last ? 1.0 : share_in(line, wanted[r].gas));
                row.push_back(last ? total : wanted[r].share * total);
                rows.push_back(std::move(row));
            }
            std::vector<double> x;
            if (solve(rows, x) && std::all_of(x.begin(), x.end(), [](double f) { return f > 0; })) {
                bool inside = true;
                for (std::size_t i = 0; i < lines.size(); ++i) {
                    const check::Figure& range = rig->lines[lines[i]].meter.range;
                    inside = inside && (!range.given ||
                                        (x[i] >= range.lo() * (1 - 1e-9) && x[i] <= range.hi() * (1 + 1e-9)));
                }
                if (inside || best.empty()) best = x, best_lines = lines;
                fits = inside;
            }
        }
        more = false;
        for (std::size_t i = 0; i < pick.size() && !more; ++i) {
            if (++pick[i] < candidates[i].size())
                more = true;
            else
                pick[i] = 0;
        }
    }
    if (best.empty()) {
        error(Code::flow_out_of_range, s.span, "no flows of this rig's lines give that blend");
        blind = true;
        return;
    }
    // Inert lines first, then what opposes them closes, then the others open.
    std::vector<std::size_t> order(best.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    auto active_gas = [&](std::size_t i) {
        return model.gases[rig->lines[best_lines[i]].gas].hazards.flammable || oxidising(best_lines[i]);
    };
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return !active_gas(a) && active_gas(b); });
    bool closed = false;
    auto close_others = [&] {
        if (std::exchange(closed, true)) return;
        for (Index line = 0; line < rig->lines.size(); ++line)
            if (now.open[line] && std::find(best_lines.begin(), best_lines.end(), line) == best_lines.end())
                close(s, line);
    };
    for (std::size_t i : order) {
        if (active_gas(i)) close_others();
        Index line = best_lines[i];
        if (now.open[line] && now.flows[line] == as_set(line, best[i])) continue;
        open(s, line, best[i], now.open[line] ? timeline::ActionKind::set : timeline::ActionKind::open);
    }
    close_others();
}

} // namespace athanor::elaborate
