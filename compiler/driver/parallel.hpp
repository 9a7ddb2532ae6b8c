#pragma once
#include <algorithm>
#include <atomic>
#include <condition_variable>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace athanor::driver {

/// work(i) for every i on `jobs` threads (0: as many as there are cores), and done(i) on the calling thread, in
/// order, as soon as all before it are there. Every `work` must own what it touches. An exception of `work` is
/// thrown again by this call, in the place of its done(i); those behind it are not done.
template<typename Work, typename Done>
void in_order(std::size_t count, unsigned jobs, Work&& work, Done&& done) {
    if (jobs == 0) jobs = std::max(1U, std::thread::hardware_concurrency());
    jobs = static_cast<unsigned>(std::min<std::size_t>(jobs, count));
    if (jobs <= 1) {
        for (std::size_t i = 0; i < count; ++i) {
            work(i);
            done(i);
        }
        return;
    }
    std::mutex mutex;
    std::condition_variable ready;
    std::vector<char> finished(count, 0);
    std::vector<std::exception_ptr> failed(count);
    std::size_t seen = 0; // done so far; guarded by `mutex`
    std::atomic<std::size_t> next{0};
    std::atomic<bool> stop{false};
    // What waits for an earlier one holds memory: nobody runs further ahead than this.
    const std::size_t ahead = std::size_t{jobs} * 8;
    auto run = [&] {
        for (std::size_t i = next++; i < count && !stop; i = next++) {
            {
                std::unique_lock lock(mutex);
                ready.wait(lock, [&] { return i < seen + ahead || stop; });
            }
            std::exception_ptr error;
            try {
                if (!stop) work(i);
            } catch (...) {
                error = std::current_exception();
            }
            {
                std::lock_guard lock(mutex);
                finished[i] = 1;
                failed[i] = error;
            }
            ready.notify_all();
        }
    };
    std::vector<std::thread> threads;
    auto join = [&] {
        stop = true;
        {
            std::lock_guard lock(mutex); // nobody is between its look at `stop` and its wait
        }
        ready.notify_all();
        for (std::thread& thread : threads) thread.join();
    };
    try {
        for (unsigned j = 0; j < jobs; ++j) threads.emplace_back(run);
        for (std::size_t i = 0; i < count; ++i) {
            std::unique_lock lock(mutex);
            ready.wait(lock, [&] { return finished[i] != 0; });
            if (failed[i]) std::rethrow_exception(failed[i]);
            lock.unlock();
            done(i);
            lock.lock();
            seen = i + 1;
            lock.unlock();
            ready.notify_all();
        }
    } catch (...) {
        join();
        throw;
    }
    join();
}

} // namespace athanor::driver
