// The consent question on a sheet from which pictures of a person leave the program: core/consent.h decides, this asks.
#pragma once

#include <set>
#include <string>

namespace hookline::viewer {

class ConsentAsk {
 public:
  // Begins anew: what was answered on this sheet before counts no more; what is remembered on disk does.
  void Reset() { asking_ = agreed_ = false; }
  // True when these bowlers' pictures may go out (none: nobody is shown). Otherwise asking(), or *trouble says why not.
  bool Settle(const std::set<std::string>& bowlers, std::string* trouble);
  bool asking() const { return asking_; }
  const std::string& question() const { return question_; }
  // The answer; on yes Settle() is to be called again, on no *trouble says what that means.
  void Answer(bool yes, std::string* trouble);

 private:
  bool asking_ = false, agreed_ = false;
  std::string question_;
};

}  // namespace hookline::viewer
