// Outcome of an operation that can fail for reasons outside the program: a file, its data, a fit without enough
// evidence.
//
// Three kinds of failure are kept apart (docs/conventions.md): std::optional where "no answer" is legitimate,
// Status/Result where a person has to be told a sentence, assert for the programmer's own error.
#pragma once

#include <cassert>
#include <optional>
#include <string>
#include <utility>

namespace hookline {

enum class StatusCode {
  kOk,
  kBadUse,         // the caller's arguments make no sense
  kBadFile,        // a file is missing, unreadable, or not what it should be
  kLaneNotFound,   // the lane could not be found in the picture
  kNotDetermined,  // the data cannot tell
  kStopped,        // the user asked to stop
  kInternal,
};

// Ok, or a code with one sentence for the user: which file, what is wrong, what to do.
class [[nodiscard]] Status {
 public:
  Status() = default;
  Status(StatusCode code, std::string sentence) : code_(code), sentence_(std::move(sentence)) {}
  static Status Ok() { return {}; }
  bool ok() const { return code_ == StatusCode::kOk; }
  StatusCode code() const { return code_; }
  const std::string& sentence() const { return sentence_; }

 private:
  StatusCode code_ = StatusCode::kOk;
  std::string sentence_;
};

// A value, or the Status that says why there is none.
template <typename T>
class [[nodiscard]] Result {
 public:
  Result(T value) : value_(std::move(value)) {}                                  // NOLINT: implicit on purpose
  Result(Status status) : status_(std::move(status)) { assert(!status_.ok()); }  // NOLINT: implicit on purpose
  bool ok() const { return value_.has_value(); }
  const Status& status() const { return status_; }
  T& value() {
    assert(ok());
    return *value_;
  }
  const T& value() const {
    assert(ok());
    return *value_;
  }
  T& operator*() { return value(); }
  const T& operator*() const { return value(); }
  T* operator->() { return &value(); }
  const T* operator->() const { return &value(); }

 private:
  std::optional<T> value_;
  Status status_;
};

}  // namespace hookline
