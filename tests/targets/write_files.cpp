#include "targets/write_files.hpp"
#include "tests/targets/sample.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>

#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <csignal>

using namespace sample;
using targets::OutputFile;
using targets::write_all;
namespace fs = std::filesystem;

namespace {

std::size_t entries(const std::string& folder) {
    return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder), fs::directory_iterator()));
}

} // namespace

TEST_CASE("a set of files is written and replaced") {
    Folder folder;
    std::string error;
    REQUIRE(write_all(folder.path, {{"a.csv", "one"}, {"b.json", ""}}, error));
    CHECK(contents(folder.path + "/a.csv") == "one");
    CHECK(fs::exists(folder.path + "/b.json"));
    CHECK(entries(folder.path) == 2);
    ::chmod((folder.path + "/a.csv").c_str(), 0640);
    REQUIRE(write_all(folder.path + "/", {{"a.csv", "two"}}, error));
    CHECK(contents(folder.path + "/a.csv") == "two");
    CHECK((fs::status(folder.path + "/a.csv").permissions() & fs::perms::mask) == fs::perms(0640));
    CHECK(entries(folder.path) == 2);
}

TEST_CASE("missing folders are made, and removed again on failure") {
    Folder folder;
    std::string error;
    REQUIRE(write_all(folder.path + "/x/y", {{"a.csv", "one"}}, error));
    CHECK(contents(folder.path + "/x/y/a.csv") == "one");
    CHECK_FALSE(write_all(folder.path + "/p/q", {{"a.csv", "one"}, {"bad/name", "two"}}, error));
    CHECK(error.find("bad/name") != std::string::npos);
    CHECK_FALSE(fs::exists(folder.path + "/p"));
}

TEST_CASE("a folder in the way: nothing of the set is written") {
    Folder folder;
    std::string error;
    std::ofstream(folder.path + "/a.csv") << "old";
    fs::create_directory(folder.path + "/b.json");
    CHECK_FALSE(write_all(folder.path, {{"a.csv", "new"}, {"b.json", "new"}, {"c.json", "new"}}, error));
    CHECK(error.find("b.json: a folder of that name is in the way") != std::string::npos);
    CHECK(contents(folder.path + "/a.csv") == "old");
    CHECK(entries(folder.path) == 2);
}

TEST_CASE("a file in place of the folder, no folder at all, no name") {
    Folder folder;
    std::string error;
    std::ofstream(folder.path + "/file") << "x";
    CHECK_FALSE(write_all(folder.path + "/file", {{"a.csv", "new"}}, error));
    CHECK_FALSE(error.empty());
    CHECK_FALSE(write_all(folder.path + "/file/deeper", {{"a.csv", "new"}}, error));
    CHECK_FALSE(write_all("/proc/no_such_folder", {{"a.csv", "new"}}, error));
    CHECK_FALSE(write_all(folder.path, {{"", "new"}}, error));
    CHECK_FALSE(write_all(folder.path, {{"a.csv", "1"}, {"a.csv", "2"}}, error));
    CHECK(entries(folder.path) == 1);
    CHECK(contents(folder.path + "/file") == "x");
}

TEST_CASE("a device is no place for a table") {
    Folder folder;
    std::string error;
    fs::create_symlink("/dev/full", folder.path + "/a.csv");
    CHECK_FALSE(write_all(folder.path, {{"a.csv", "new"}}, error));
    CHECK(error.find("no ordinary file") != std::string::npos);
    CHECK(fs::is_symlink(folder.path + "/a.csv"));
    CHECK(entries(folder.path) == 1);
}

TEST_CASE("a symbolic link stays one, its file is replaced; a link to nowhere gets its file") {
    Folder folder;
    std::string error;
    fs::create_directory(folder.path + "/real");
    std::ofstream(folder.path + "/real/a.csv") << "old";
    fs::create_symlink("real/a.csv", folder.path + "/a.csv");
    fs::create_symlink("real/new.csv", folder.path + "/b.csv");
    REQUIRE(write_all(folder.path, {{"a.csv", "new"}, {"b.csv", "newer"}}, error));
    CHECK(fs::is_symlink(folder.path + "/a.csv"));
    CHECK(contents(folder.path + "/real/a.csv") == "new");
    CHECK(contents(folder.path + "/real/new.csv") == "newer");
    CHECK(entries(folder.path) == 3);
    // A link that leads to itself leads nowhere.
    fs::create_symlink("c.csv", folder.path + "/c.csv");
    CHECK_FALSE(write_all(folder.path, {{"a.csv", "third"}, {"c.csv", "x"}}, error));
    CHECK(contents(folder.path + "/real/a.csv") == "new");
}

TEST_CASE("a disk that is full leaves the old files and nothing else") {
    Folder folder;
    std::string error;
    std::ofstream(folder.path + "/a.csv") << "old";
    // A limit on the size of files stands for the full disk: write() fails half way in the same manner.
    struct rlimit before {};
    REQUIRE(::getrlimit(RLIMIT_FSIZE, &before) == 0);
    auto handler = std::signal(SIGXFSZ, SIG_IGN);
    struct rlimit small = before;
    small.rlim_cur = 1000;
    REQUIRE(::setrlimit(RLIMIT_FSIZE, &small) == 0);
    bool written = write_all(folder.path, {{"a.csv", "new"}, {"b.json", std::string(5000, 'x')}}, error);
    ::setrlimit(RLIMIT_FSIZE, &before);
    std::signal(SIGXFSZ, handler);
    CHECK_FALSE(written);
    CHECK(error.find("b.json: it cannot be written") != std::string::npos);
    CHECK(contents(folder.path + "/a.csv") == "old");
    CHECK(entries(folder.path) == 1);
}

TEST_CASE("a folder that may not be written") {
    Folder folder;
    std::string error;
    ::chmod(folder.path.c_str(), 0555);
    // The superuser may write everywhere, so the call is made as nobody.
    bool superuser = ::geteuid() == 0;
    if (superuser) REQUIRE(::seteuid(65534) == 0);
    bool written = write_all(folder.path, {{"a.csv", "new"}}, error);
    if (superuser) REQUIRE(::seteuid(0) == 0);
    CHECK_FALSE(written);
    CHECK(error.find("it cannot be written") != std::string::npos);
    ::chmod(folder.path.c_str(), 0700);
    CHECK(entries(folder.path) == 0);
}
