#pragma once
#include <rapidcheck.h>

#include <iostream>
#include <string>
#include <utility>

namespace athanor {

/// rc::check with more draws than its hundred: soundness of arithmetic hides in rare combinations. RC_PARAMS
/// still sets seed and size, and a failure prints the seed that reproduces it.
template<class Body>
bool holds_always(const std::string& what, Body&& body, int draws = 5000) {
    namespace detail = rc::detail;
    detail::TestParams params = detail::configuration().testParams;
    params.maxSuccess = draws;
    detail::TestMetadata metadata;
    metadata.description = what;
    const detail::TestResult result = detail::checkTestable(std::forward<Body>(body), metadata, params);
    if (result.template is<detail::SuccessResult>()) return true;
    detail::printResultMessage(result, std::cerr);
    std::cerr << " (" << what << ", seed " << params.seed << ")\n";
    return false;
}

} // namespace athanor
