#include "compiler/prove/ahead.hpp"

namespace athanor::prove {

const plant::State& Ahead::during(Interval t) {
    for (std::size_t k = 0; k < answers_.size(); ++k) {
        const std::size_t i = (next_ + k) % answers_.size();
        const Answer& answer = answers_[i];
        if (answer.t.lo != t.lo || answer.t.hi != t.hi) continue;
        next_ = i + 1;
        return answer.state;
    }
    next_ = 0;
    return answers_.emplace_back(Answer{t, way_.during(t)}).state;
}

} // namespace athanor::prove
