#pragma once
#include "compiler/check/evaluate.hpp"
#include "compiler/elaborate/messages.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <string_view>

namespace athanor::elaborate {

using check::ExprId;
using check::Index;
using check::NameRef;
using check::none;

/// Values of expressions in the frame at hand, and names resolved against the rig; what is wrong with them is
/// told.
class Values : protected Messages {
protected:
    Values(const check::Model& model_, const Files& files_, Diagnostics& out_)
        : Messages(files_, out_), model(model_) {}

    check::Value value(ExprId expr);
    /// One number; false when it was reported, or is missing. An interval is no number that can be set.
    bool number(ExprId expr, double& si);
    bool number(ExprId expr, Interval value, Type type, double& si);
    /// A flow in mol/s on a line; a volume flow goes through the line's meter.
    bool flow(ExprId expr, Index line, double& si);
    /// A flow as the line's meter is read: a volume where the meter states its reference.
    std::string flow_text(Index line, double si, int digits = 4) const;
    std::string flow_text(Index line, Interval si) const;
    /// A flow at an end of what the meter sets, in the unit that stands at `written`, rounded into its range.
    std::string flow_as_written(athanor::Span written, Index line, double si) const;
    /// The same of any other quantity, of which the limit is the least or the greatest that is allowed.
    std::string limit_as_written(athanor::Span written, double si, Kind kind, bool least = false) const;
    Index line_of(NameRef name);
    Index gas_of(NameRef name);
    Index zone_of(NameRef name);
    Index species_named(std::string_view name) const;
    std::string_view text_of(const NameRef& name) const { return model.names[name.name]; }
    athanor::Span span_of(ExprId expr) const { return model.exprs[expr].span; }

    const check::Model& model;
    const check::Rig* rig = nullptr;
    timeline::Timeline* t = nullptr; // its zones and gases are known before the first value
    check::Frame* frame = nullptr;   // of the block at hand
    bool blind = false;              // a set-point or state is unknown because of a reported error

private:
    void passed_over(Diagnostic& d, const check::Line& line, Index gas) const;

    Diagnostics scratch; // what the survey finds is found again and reported by the second walk
};

} // namespace athanor::elaborate
