// The named reference: a well-kept general-purpose library parses the equivalent JSON and prints it again.
#include <nlohmann/json.hpp>

#include <fstream>
#include <iostream>

int main(int argc, char** argv) {
    if (argc != 2) return 2;
    std::ifstream file(argv[1]);
    std::cout << nlohmann::json::parse(file).dump();
}
