#pragma once
#include "compiler/driver/session.hpp"

namespace athanor::driver {

/// Is a recipe proven for every value that its parameters may take? Lists and counts are tried one by one,
/// through the legaliser. A range is a box: the timelines of its corners are joined and proven as one, and the
/// box is halved where that is not enough. What is not proven is reported into the session with the values it
/// fails for. Ends of ranges also go through the legaliser, each alone; a table is proven again for the value
/// it is built with.
/// Not thorough: the first piece that fails ends it, and the values told are those of that piece.
enum class Thorough : bool { no, yes };
bool ranges_hold(Session& session, check::Index recipe, const Options& options,
                 Thorough thorough = Thorough::yes);

} // namespace athanor::driver
