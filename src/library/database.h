// SQLite behind one small door: a connection, statements that clean up after themselves, and failures as one sentence.
// Private to src/library.
#pragma once

#include <sqlite3.h>

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "core/status.h"

namespace hookline::library {

class Statement {
 public:
  Statement(sqlite3* db, const std::string& sql);
  bool ok() const { return statement_ != nullptr; }
  Statement& Bind(int at, std::int64_t value);  // places from 1
  Statement& Bind(int at, double value);
  Statement& Bind(int at, const std::string& value);
  Statement& BindText(int at, const std::string& value);  // empty: NULL
  Statement& Bind(int at, const std::optional<double>& value);
  Statement& Bind(int at, const std::optional<std::int64_t>& value);
  // SQLITE_ROW, SQLITE_DONE or an error.
  int Step();
  std::int64_t Int(int column) const;
  std::string Text(int column) const;
  std::optional<double> Number(int column) const;
  std::optional<std::int64_t> MaybeInt(int column) const;

 private:
  struct Finalize {
    void operator()(sqlite3_stmt* s) const { sqlite3_finalize(s); }
  };
  std::unique_ptr<sqlite3_stmt, Finalize> statement_;
};

class Database {
 public:
  // Opens or creates; WAL, foreign keys on, waits up to five seconds for another program.
  static Result<std::unique_ptr<Database>> Open(const std::string& file);
  ~Database();
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  sqlite3* get() const { return db_; }
  Status Run(const std::string& sql);  // no parameters, no rows
  // All of `work` or nothing of it; another program's writing waits.
  // Within another transaction it is part of that one.
  Status Transaction(const std::function<Status()>& work);
  Status Failure(const std::string& doing) const;  // the last error as a sentence
  std::int64_t LastId() const { return sqlite3_last_insert_rowid(db_); }
  int Changes() const { return sqlite3_changes(db_); }

 private:
  Database(sqlite3* db, std::string file) : db_(db), file_(std::move(file)) {}
  sqlite3* db_;
  std::string file_;
};

}  // namespace hookline::library
