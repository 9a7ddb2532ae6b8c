#include "targets/write_files.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <system_error>

namespace athanor::targets {
namespace {

namespace fs = std::filesystem;

std::string reason(int number) {
    return std::generic_category().message(number);
}

/// One file on its way: it undoes itself unless the whole set is kept.
struct Pending {
    std::string place;     // where the bytes go, links followed
    std::string temporary; // new bytes; empty once renamed
    std::string previous;  // second name of what stood there before; empty if nothing did
    bool placed = false;
};

class FileSet {
public:
    FileSet() = default;
    FileSet(const FileSet&) = delete;
    FileSet& operator=(const FileSet&) = delete;
    ~FileSet() {
        for (Pending& file : files) {
            if (!kept && file.placed) {
                if (file.previous.empty()) {
                    ::unlink(file.place.c_str());
                } else if (::rename(file.previous.c_str(), file.place.c_str()) == 0) {
                    file.previous.clear();
                }
            }
            if (!file.temporary.empty()) ::unlink(file.temporary.c_str());
            if (!file.previous.empty()) ::unlink(file.previous.c_str());
        }
        if (!kept)
            for (auto made = folders.rbegin(); made != folders.rend(); ++made) ::rmdir(made->c_str());
    }

    std::vector<Pending> files;
    std::vector<std::string> folders; // made by this call, outermost first
    bool kept = false;
};

/// Makes the folders that are missing on the way to `folder`.
bool make_folders(const fs::path& folder, std::vector<std::string>& made, std::string& error) {
    std::vector<fs::path> missing;
    for (fs::path at = folder; !at.empty(); at = at.parent_path()) {
        std::error_code code;
        if (fs::exists(fs::status(at, code))) break;
        missing.push_back(at);
        if (at == at.parent_path()) break;
    }
    for (auto at = missing.rbegin(); at != missing.rend(); ++at) {
        if (::mkdir(at->c_str(), 0777) != 0) {
            if (errno == EEXIST) continue;
            error = at->string() + ": the folder cannot be made: " + reason(errno);
            return false;
        }
        made.push_back(at->string());
    }
    return true;
}

/// Where a chain of links leads, whether something stands there or not.
bool follow_links(fs::path& path, std::string& error) {
    std::error_code code;
    for (int links = 0; fs::is_symlink(fs::symlink_status(path, code)); ++links) {
        fs::path target = fs::read_symlink(path, code);
        constexpr int most_links = 40; // as many as the kernel follows
        if (code || links == most_links) {
            error = path.string() + ": the link leads nowhere";
            return false;
        }
        path = target.is_absolute() ? target : path.parent_path() / target;
    }
    return true;
}

bool write_bytes(int descriptor, const std::string& bytes) {
    std::size_t done = 0;
    while (done < bytes.size()) {
        ssize_t n = ::write(descriptor, bytes.data() + done, bytes.size() - done);
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) return false;
        done += static_cast<std::size_t>(n);
    }
    return ::fsync(descriptor) == 0;
}

/// A name beside `place` that nothing has yet, opened for writing.
int open_temporary(const std::string& place, std::string& name) {
    name = place + ".XXXXXX";
    return ::mkstemp(name.data());
}

bool prepare(Pending& file, const OutputFile& wanted, const std::string& shown, std::string& error) {
    struct stat status {};
    bool exists = ::stat(file.place.c_str(), &status) == 0;
    if (!exists && errno != ENOENT) {
        error = shown + ": " + reason(errno);
        return false;
    }
    if (exists && !S_ISREG(status.st_mode)) {
        error = shown + (S_ISDIR(status.st_mode) ? ": a folder of that name is in the way"
                                                 : ": it is no ordinary file, and is left alone");
        return false;
    }
    int descriptor = open_temporary(file.place, file.temporary);
    if (descriptor < 0) {
        file.temporary.clear();
        error = shown + ": it cannot be written: " + reason(errno);
        return false;
    }
    // mkstemp gives 0600; a table is as readable as any other new file, or as the one it replaces.
    mode_t mask = ::umask(0);
    ::umask(mask);
    mode_t mode = exists ? status.st_mode & 07777U : 0666U & ~mask;
    bool good = write_bytes(descriptor, wanted.bytes);
    int number = errno;
    if (good && ::fchmod(descriptor, mode) != 0) {
        good = false;
        number = errno;
    }
    if (::close(descriptor) != 0 && good) {
        good = false;
        number = errno;
    }
    if (!good) error = shown + ": it cannot be written: " + reason(number);
    return good;
}

bool place(Pending& file, const std::string& shown, std::string& error) {
    // A second name for the old content, so that a later failure can bring it back.
    std::string second = file.temporary + ".old";
    if (::link(file.place.c_str(), second.c_str()) == 0) {
        file.previous = second;
    } else if (errno != ENOENT) {
        // No hard links on this file system: the old file moves aside instead.
        if (::rename(file.place.c_str(), second.c_str()) != 0) {
            error = shown + ": it cannot be replaced: " + reason(errno);
            return false;
        }
        file.previous = second;
        file.placed = true;
    }
    if (::rename(file.temporary.c_str(), file.place.c_str()) != 0) {
        error = shown + ": it cannot be replaced: " + reason(errno);
        return false;
    }
    file.temporary.clear();
    file.placed = true;
    return true;
}

void flush_folder(const std::string& folder) {
    // The names are on the disk only when the folder is; a file system that cannot say so is no reason to fail.
    int descriptor = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (descriptor < 0) return;
    ::fsync(descriptor);
    ::close(descriptor);
}

} // namespace

bool write_all(const std::string& folder, const std::vector<OutputFile>& files, std::string& error) {
    FileSet set;
    fs::path base = folder.empty() ? fs::path(".") : fs::path(folder);
    if (!base.has_filename()) base = base.parent_path().empty() ? base : base.parent_path();
    if (!make_folders(base, set.folders, error)) return false;
    std::vector<std::string> shown;
    for (const OutputFile& file : files) {
        fs::path path = base / file.name;
        if (file.name.empty() || fs::path(file.name).has_parent_path()) {
            error = "`" + file.name + "` is no file name";
            return false;
        }
        shown.push_back(path.string());
        if (!follow_links(path, error)) return false;
        for (const Pending& other : set.files)
            if (other.place == path.string()) {
                error = path.string() + ": two files of one set have this name";
                return false;
            }
        set.files.push_back({path.string(), {}, {}, false});
        if (!prepare(set.files.back(), file, shown.back(), error)) return false;
    }
    for (std::size_t i = 0; i < set.files.size(); ++i)
        if (!place(set.files[i], shown[i], error)) return false;
    set.kept = true;
    flush_folder(base.string());
    return true;
}

} // namespace athanor::targets
