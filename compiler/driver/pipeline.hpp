#pragma once
#include "compiler/driver/session.hpp"
#include "compiler/driver/table_rows.hpp"
#include "compiler/elaborate/elaborate.hpp"
#include "compiler/legalise/limits.hpp"
#include "compiler/prove/hazards.hpp"
#include "compiler/prove/prove.hpp"
#include "compiler/replay/replay.hpp"
#include "targets/target.hpp"

#include <functional>
#include <string>
#include <vector>

namespace athanor::driver {

/// One recipe taken through every stage as far as it gets.
struct Compiled {
    check::Index recipe = check::none, rig = check::none, controller = check::none;
    elaborate::Elaborated elaborated;
    prove::Assurance assurance; // of the legalised timeline where there is one, else of the elaborated
    legalise::Legalised legalised;
    bool timeline_ready = false; // elaborated without error
    bool judged = true;          // false: an option asks for what is not there
    bool files_wrong = false;    // something else in the files is wrong
    /// No error in it or in its files: every rule holds of the timeline that `assurance` is about, and a
    /// controller that is named holds the program.
    bool proven = false;
    std::string name;
};

/// Elaborate, legalise, prove what the controller will really run. `values`: parameters by name, over those of
/// the session. `texts`: of the program; who only asks whether all is proven needs none.
Compiled compile(Session& session, check::Index recipe, const Options& options,
                 const std::vector<std::pair<std::string, check::ExprId>>& values, Diagnostics& out,
                 legalise::Texts texts = legalise::Texts::all);
/// The same with values that are evaluated.
Compiled compile_at(Session& session, check::Index recipe, const Options& options,
                    std::vector<std::pair<std::string, check::Value>> values, Diagnostics& out,
                    std::vector<Span> places = {}, legalise::Texts texts = legalise::Texts::all);

/// What its keying may not pass. Refers to `hazards`, which must outlive it.
legalise::Limits keying_limits(const prove::Hazards& hazards);

/// "copper_sinter: proven, 17 h 20 min to 19 h, 14 segments (of 16 each on bench)", or that it is not.
std::string summary(const Compiled& compiled, const Session& session);
/// What stands behind that line where a site has taken rules upon itself: a further line for each, a line feed
/// before it. Empty for what is not proven: a refusal leans on no concession.
std::string conceded(const Compiled& compiled);

/// What a table asks of its controller beyond its declaration, taken for granted: a sentence for each.
std::vector<std::string> abilities(const program::Program& program);

/// What all spans of a run take together, `share` being that of one: a person may leave out the later passes of
/// a repeat.
Interval total_of(const timeline::Timeline& timeline, const std::function<Interval(std::size_t span)>& share);
/// Shortest and longest length of a timeline, s.
Interval duration(const timeline::Timeline& timeline);

/// What goes beside the program into a table: totals, hashes, embedded equipment.
targets::Context context(const Session& session, const Compiled& compiled);

/// A table that was read, run and laid beside the recipe: every difference in what the controller does, in what
/// a person does, and in what the table says of itself.
struct Compared {
    replay::Run run;
    std::vector<Misfit> differences;
    bool instructions = true; // false: the format carries none, and none were compared
};
Compared compare_with_recipe(const ReadTable& table, const Session& session, const Compiled& compiled);

/// Writes a table in memory, reads its own bytes back, runs them in the independent interpreter and compares
/// with the recipe's timeline. Empty result: the table says what the recipe says.
std::vector<std::string> validate(const targets::Target& target, const std::vector<targets::OutputFile>& output,
                                  const Session& session, const Compiled& compiled);

inline constexpr const char* version_text = "athanor 0.1.0";

} // namespace athanor::driver
