# Found by find_package(athanor CONFIG) in a build folder: the stages as libraries, and main() as objects.
include(CMakeFindDependencyMacro)
find_dependency(pegtl CONFIG)
find_dependency(fmt CONFIG)
find_dependency(nlohmann_json CONFIG)
find_dependency(CLI11 CONFIG)
include(${CMAKE_CURRENT_LIST_DIR}/athanor-targets.cmake)
