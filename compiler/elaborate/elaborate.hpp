#pragma once
#include "compiler/check/evaluate.hpp"
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"
#include "compiler/timeline/timeline.hpp"

#include <memory>
#include <optional>
#include <utility>
#include <vector>

namespace athanor::elaborate {

/// An expansion beyond these is `too_large`: at most some minutes and 1 GB, whatever stands in a file.
inline constexpr std::size_t max_spans = 200'000;
/// What a pump-down or a filling counts as: it is followed in small parts.
inline constexpr std::size_t pump_step = 20;
inline constexpr unsigned max_call_depth = 64;
inline constexpr double longest_run = 10 * 365.25 * 86400; // s

struct Request {
    check::Index recipe = check::none;
    check::Index rig = check::none;                           // none: the recipe's own
    std::vector<std::pair<std::string, check::Value>> values; // --set and calls in tests
    check::Index controller = check::none;                    // none: the recipe's own, if it names one
    std::vector<athanor::Span> places{}; // where each value is given; empty: where its parameter is declared
    bool corner = false;                 // of a range: its steps are to be the same as the other corners'
};

struct Elaborated {
    std::unique_ptr<timeline::Timeline> timeline; // stays where it is: the plant refers to it
    std::unique_ptr<plant::Plant> plant;
    bool complete = false; // false: errors were reported, and nothing may be keyed or drawn
    /// All errors that were reported leave the timeline as the recipe asks for it (too much for the tube, air
    /// that is drawn in, …): rules can be judged on it, so that a person reads all that is wrong at once.
    bool whole = false;
    /// Spans of lines whose length follows from how far they go: where that turns round, so does the length.
    std::vector<timeline::Index> by_way{};
};

/// Runs the recipe on the model of the rig: expands, places actions, resolves every duration, and reports what
/// the rig cannot do (heat, meters, seals, supplies, pump) and what the text does not say (`value_missing` …).
///
/// `repeat until operator accepts "…" at most N times` becomes N passes that each end with a person, whose text
/// says that the repeat may end there; what follows is proven behind each of them. Steps between two `run`
/// blocks belong to the one that follows; where no person stands between two runs, a stop of any length is put
/// there. A ramp that no furnace inside the stated data can follow is an error; one that some furnace can
/// follow is a warning, since the plant counts with the lag. A step that takes no time (a ramp to the present
/// set-point, `dwell 0 s`) leaves no span, but for one that waits, within a band or until a condition: it has
/// one, of no length where what it waits for is so already.
Elaborated elaborate(const check::Model& model, const Request& request, const Files& files, Diagnostics& out);

} // namespace athanor::elaborate
