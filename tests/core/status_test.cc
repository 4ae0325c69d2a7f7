#include "core/status.h"

#include <doctest/doctest.h>

#include <memory>

using namespace hookline;

TEST_CASE("a status is ok until it says otherwise") {
  CHECK(Status().ok());
  CHECK(Status::Ok().code() == StatusCode::kOk);
  const Status bad(StatusCode::kBadFile, "a.mp4 does not exist.");
  CHECK_FALSE(bad.ok());
  CHECK(bad.sentence() == "a.mp4 does not exist.");
}

TEST_CASE("a result holds a value or a status, also a value that can only be moved") {
  Result<std::unique_ptr<int>> good(std::make_unique<int>(7));
  REQUIRE(good.ok());
  CHECK(**good == 7);
  CHECK(good.status().ok());
  const Result<std::unique_ptr<int>> bad(Status(StatusCode::kNotDetermined, "too little was seen"));
  CHECK_FALSE(bad.ok());
  CHECK(bad.status().code() == StatusCode::kNotDetermined);
}
