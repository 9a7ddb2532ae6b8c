#include "targets/sheet/columns.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::targets::sheet {

std::vector<Column> every_column(const program::Program& program) {
    std::vector<Column> list{{Field::program, 0, "program", true},
                             {Field::segment, 0, "segment", true},
                             {Field::kind, 0, "kind", true},
                             {Field::start, 0, "start_degC", true}};
    bool several = program.zones.size() > 1;
    std::size_t zones = std::max<std::size_t>(1, program.zones.size());
    for (std::size_t z = 0; z < zones; ++z)
        list.push_back(
            {Field::target, z, several ? "target_" + program.zones[z] + "_degC" : "target_degC", true});
    for (std::size_t z = 0; z < zones; ++z)
        list.push_back(
            {Field::rate, z, several ? "rate_" + program.zones[z] + "_K_per_min" : "rate_K_per_min", true});
    list.push_back({Field::duration, 0, "duration_s", true});
    list.push_back({Field::dwell, 0, "dwell_s", false});
    list.push_back({Field::band, 0, "soak_band_K", true});
    for (std::size_t i = 0; i < program.outputs.size(); ++i)
        list.push_back({Field::output, i,
                        fmt::format("out{}_{}", program.outputs[i].number, program.outputs[i].name), true});
    for (std::size_t i = 0; i < program.channels.size(); ++i)
        list.push_back({Field::channel, i, program.channels[i] + "_sccm", true});
    list.push_back({Field::loop_start, 0, "loop_start", false});
    list.push_back({Field::loop_passes, 0, "loop_passes", false});
    list.push_back({Field::next, 0, "next_program", false});
    list.push_back({Field::instruction, 0, "instruction", true});
    list.push_back({Field::source, 0, "source", true});
    return list;
}

std::vector<Column> needed_columns(const program::Program& program) {
    bool loops = false, links = false, both = false;
    for (const program::Part& part : program.parts) {
        loops = loops || !part.loops.empty();
        links = links || part.next != 0;
        for (const program::Segment& segment : part.segments)
            both = both || segment.kind == program::SegmentKind::ramp_dwell;
    }
    std::vector<Column> list = every_column(program);
    std::erase_if(list, [&](const Column& column) {
        switch (column.field) {
        case Field::dwell: return !both;
        case Field::loop_start:
        case Field::loop_passes: return !loops;
        case Field::next: return !links;
        default: return false;
        }
    });
    return list;
}

} // namespace athanor::targets::sheet
