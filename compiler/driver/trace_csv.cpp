// The rows of a trace as a CSV table (RFC 4180).
#include "compiler/driver/trace.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"
#include "targets/csv/text.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstdlib>

namespace athanor::driver {
namespace {

using physics::zero_celsius;

std::string_view unit(Measure measure) {
    switch (measure) {
    case Measure::temperature: return "_degC";
    case Measure::pressure: return "_Pa";
    case Measure::flow: return "_sccm";
    case Measure::fraction: return "_fraction";
    case Measure::volumes: return "_volumes";
    case Measure::time: return "_s";
    case Measure::truth: return "";
    }
    return "";
}

double shown(double si, Measure measure) {
    if (measure == Measure::temperature) return si - zero_celsius;
    if (measure == Measure::flow) return from_si(si, *unit_named("sccm"));
    return si;
}

/// Seven digits, never above (`upward` false) or never below the value.
std::string rounded(double value, bool upward) {
    if (std::isinf(value)) return value > 0 ? "INF" : "-INF"; // as W3C XML Schema writes them; Python reads it
    if (value == 0) return "0";
    std::string text = fmt::format("{:.6e}", value);
    double back = std::strtod(text.c_str(), nullptr);
    if (upward ? back < value : back > value) {
        const double step = std::pow(10.0, std::floor(std::log10(std::abs(value))) - 6);
        text = fmt::format("{:.6e}", back + (upward ? step : -step));
        back = std::strtod(text.c_str(), nullptr);
    }
    return fmt::format("{:.7g}", back);
}

/// K to degC and mol/s to sccm round once more; one unit in the last place is given away for it. Nothing is
/// colder than 0 K, and zero flow is zero in every unit.
Interval shown(Interval si, Measure measure) {
    const Interval value{shown(si.lo, measure), shown(si.hi, measure)};
    if (measure == Measure::temperature) return max(widen(value), -zero_celsius);
    if (measure == Measure::flow)
        return {si.lo == 0 ? 0 : rounding::down(value.lo), si.hi == 0 ? 0 : rounding::up(value.hi)};
    return value;
}

std::string_view kind_name(RowKind kind) {
    switch (kind) {
    case RowKind::entry: return "entry";
    case RowKind::within: return "within";
    case RowKind::exit: return "exit";
    case RowKind::end: return "end";
    }
    return "";
}

std::string header(const timeline::Timeline& timeline, const std::vector<TraceColumn>& columns) {
    std::string line = "span,path,segment,row,time_s,time_s_lower,time_s_upper,after_entry_s";
    for (const std::string& zone : timeline.zones) line += ",setpoint_" + zone + "_degC";
    for (const TraceColumn& column : columns)
        for (const char* bound : {"_lower", "_upper"})
            line += "," + column.name + std::string(unit(column.measure)) + bound;
    for (const timeline::Line& l : timeline.lines)
        if (l.used) line += ",set_" + l.name + "_sccm";
    if (timeline.burner.present) line += ",burner";
    if (timeline.pump.present) line += ",pump";
    return line + ",tube_open,regulated_Pa\r\n";
}

} // namespace

void write_csv(const timeline::Timeline& timeline, const plant::Plant& plant, Every every,
               const std::vector<std::string>& segments, const std::function<void(const std::string&)>& write) {
    const std::vector<TraceColumn> columns = trace_columns(timeline);
    write(header(timeline, columns));
    trace(timeline, plant, columns, every, [&](const TraceRow& row) {
        const bool end = row.kind == RowKind::end;
        const timeline::Index path = end ? timeline::none : timeline.spans[row.span].path;
        std::string line = fmt::format("{},", row.span);
        if (path < timeline.paths.size()) targets::csv::append_field(line, timeline.paths[path]);
        line +=
            fmt::format(",{},{}", row.span < segments.size() ? segments[row.span] : "", kind_name(row.kind));
        line += fmt::format(",{},{},{},{}", fmt::format("{:.10g}", row.time), rounded(row.instant.lo, false),
                            rounded(row.instant.hi, true), fmt::format("{:.10g}", row.after));
        for (double setpoint : row.setpoints) line += fmt::format(",{:.7g}", setpoint - zero_celsius);
        for (std::size_t c = 0; c < columns.size(); ++c) {
            const Interval value = shown(row.values[c], columns[c].measure);
            line += "," + rounded(value.lo, false) + "," + rounded(value.hi, true);
        }
        const timeline::State& state = *row.state;
        for (std::size_t l = 0; l < timeline.lines.size(); ++l)
            if (timeline.lines[l].used)
                line += fmt::format(",{:.7g}", state.open[l] ? shown(state.flows[l], Measure::flow) : 0.0);
        if (timeline.burner.present) line += state.burner ? ",1" : ",0";
        if (timeline.pump.present) line += state.pump ? ",1" : ",0";
        line += state.tube_open ? ",1" : ",0";
        line += fmt::format(",{:.7g}\r\n", state.regulated);
        write(line);
    });
}

} // namespace athanor::driver
