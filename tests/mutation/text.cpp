#include "tests/mutation/text.hpp"

#include "tests/mutation/accidents.hpp"

#include <fstream>
#include <regex>
#include <sstream>
#include <stdexcept>

namespace athanor::mutation {

namespace {

std::string read(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    if (!in) throw std::runtime_error("cannot read " + path);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

} // namespace

std::string joined(const std::vector<std::string>& lines) {
    std::string text;
    for (const std::string& line : lines) text += line + "\n";
    return text;
}

Subject subject(const std::string& path) {
    Subject s;
    s.path = path;
    // One run is simulated, not a range of runs: parameters stay at their defaults.
    static const std::regex range(R"( in \[?[0-9.]+ (degC|min|h|K/min)( to |, )[^=]*=)");
    std::istringstream text(read(path));
    bool in_test = false;
    for (std::string line; std::getline(text, line);) {
        if (line.starts_with("test ")) in_test = true;
        if (!in_test) s.recipe.push_back(std::regex_replace(line, range, " ="));
        if (line == "}") in_test = false;
        std::smatch found;
        static const std::regex used(R"re(^use "([^"]*rigs/[^"]+)")re");
        if (std::regex_search(line, found, used)) s.rig_path = found[1];
        if (line.find("switch to hydrogen") != std::string::npos) s.flammable = true;
    }
    if (s.rig_path.empty()) throw std::runtime_error(path + " uses no rig");
    s.rig = read(path.substr(0, path.rfind('/') + 1) + s.rig_path);
    return s;
}

std::vector<Accident> mutate(const Subject& subject, std::mt19937& random, Subject& mutant) {
    std::vector<Accident> done;
    mutant = subject;
    const std::size_t wanted = 1 + random() % 3;
    for (int tries = 0; tries < 200 && done.size() < wanted; ++tries) {
        const Accident next{random() % kinds(), static_cast<unsigned>(random())};
        if (happen(next, mutant)) done.push_back(next);
    }
    return done;
}

std::size_t kinds() {
    return accidents().size();
}

std::string_view name(std::size_t kind) {
    return accidents()[kind].name;
}

bool happen(Accident accident, Subject& subject) {
    std::mt19937 random(accident.seed);
    Subject changed = subject;
    if (!accidents()[accident.kind].happen(changed, random)) return false;
    if (changed.recipe == subject.recipe && changed.rig == subject.rig) return false;
    subject = std::move(changed);
    return true;
}

} // namespace athanor::mutation
