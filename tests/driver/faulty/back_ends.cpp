// Back ends with a fault each, for a program of their own: `build` must refuse what they write.
#include "targets/target.hpp"

#include <functional>

namespace athanor::targets {
namespace {

const Target& csv() {
    return *target_named("csv");
}

Target faulty(const char* name, const std::function<void(program::Program&)>& fault, bool cut = false) {
    Target target = csv();
    target.name = name;
    target.ending = name;
    target.write = [=](const program::Program& program, const Context& context, std::string_view stem) {
        program::Program wrong = program;
        fault(wrong);
        std::vector<OutputFile> files = csv().write(wrong, context, stem);
        for (OutputFile& file : files) file.name = name + ("_" + file.name);
        if (cut) files[0].bytes.resize(files[0].bytes.size() / 2);
        return files;
    };
    return target;
}

const Registration dwell(faulty("faulty_dwell", [](program::Program& p) {
    for (program::Segment& s : p.parts[0].segments)
        if (s.dwell > 0) return void(--s.dwell);
}));
const Registration output(faulty("faulty_output",
                                 [](program::Program& p) { p.parts[0].segments[2].outputs ^= 1U; }));
const Registration bytes(faulty(
    "faulty_bytes", [](program::Program&) {}, true));

} // namespace
} // namespace athanor::targets
