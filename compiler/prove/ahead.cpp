#include "compiler/prove/ahead.hpp"

namespace athanor::prove {

const plant::State& Ahead::during(Interval t) {
    if (is_later(t)) {
        latest_ = t;
    } else {
        for (std::size_t k = 0, i = last_; k < answers_.size(); ++k, ++i) {
            if (i == answers_.size()) i = 0;
            const Answer& answer = *answers_[i];
            if (answer.t.lo != t.lo || answer.t.hi != t.hi) continue;
            last_ = i;
            return answer.state;
        }
    }
    last_ = answers_.size();
    return answers_.emplace_back(std::make_unique<const Answer>(t, way_))->state;
}

} // namespace athanor::prove
