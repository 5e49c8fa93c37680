#pragma once

#include <filesystem>
#include <mutex>
#include <thread>
#include <utility>

#include <csignal>

namespace luxdossier::seal {

/// Keeps the program from leaving half a folder behind: while it lives, SIGINT, SIGTERM and SIGHUP first
/// remove the folder that it guards and then end the program as they would have done. Signals that are
/// ignored stay ignored.
///
/// A thread waits for the signals, because removing a tree is more than a signal handler may do.
class InterruptionGuard {
public:
    InterruptionGuard();
    ~InterruptionGuard();
    InterruptionGuard(const InterruptionGuard&) = delete;
    InterruptionGuard& operator=(const InterruptionGuard&) = delete;

    /// Held while the folder gets its name or is removed: an interruption waits for it, and it waits for an
    /// interruption that has begun, which never lets go.
    [[nodiscard]] std::unique_lock<std::mutex> lock() { return std::unique_lock(mutex_); }
    /// What is to be removed; an empty path: nothing. Call it under lock().
    void set_folder(std::filesystem::path folder) { folder_ = std::move(folder); }

private:
    void watch();
    std::filesystem::path folder_;
    std::mutex mutex_;
    sigset_t watched_{};
    sigset_t mask_before_{};
    int signals_ = -1;  ///< file descriptors
    int stopped_ = -1;  ///< end of a pipe that hangs up when the work is done
    int stop_ = -1;     ///< its other end
    std::thread watcher_;
};

}  // namespace luxdossier::seal
