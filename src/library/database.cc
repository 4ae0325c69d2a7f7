#include "library/database.h"

namespace hookline::library {

Statement::Statement(sqlite3* db, const std::string& sql) {
  sqlite3_stmt* s = nullptr;
  if (sqlite3_prepare_v2(db, sql.c_str(), static_cast<int>(sql.size()), &s, nullptr) == SQLITE_OK) statement_.reset(s);
}

Statement& Statement::Bind(int at, std::int64_t value) {
  sqlite3_bind_int64(statement_.get(), at, value);
  return *this;
}

Statement& Statement::Bind(int at, double value) {
  sqlite3_bind_double(statement_.get(), at, value);
  return *this;
}

Statement& Statement::Bind(int at, const std::string& value) {
  sqlite3_bind_text(statement_.get(), at, value.data(), static_cast<int>(value.size()), SQLITE_TRANSIENT);
  return *this;
}

Statement& Statement::BindText(int at, const std::string& value) {
  if (value.empty())
    sqlite3_bind_null(statement_.get(), at);
  else
    Bind(at, value);
  return *this;
}

Statement& Statement::Bind(int at, const std::optional<double>& value) {
  if (value)
    Bind(at, *value);
  else
    sqlite3_bind_null(statement_.get(), at);
  return *this;
}

Statement& Statement::Bind(int at, const std::optional<std::int64_t>& value) {
  if (value)
    Bind(at, *value);
  else
    sqlite3_bind_null(statement_.get(), at);
  return *this;
}

int Statement::Step() { return statement_ ? sqlite3_step(statement_.get()) : SQLITE_ERROR; }

std::int64_t Statement::Int(int column) const { return sqlite3_column_int64(statement_.get(), column); }

std::string Statement::Text(int column) const {
  const auto* text = sqlite3_column_text(statement_.get(), column);
  const auto bytes = static_cast<std::size_t>(sqlite3_column_bytes(statement_.get(), column));
  return text ? std::string(reinterpret_cast<const char*>(text), bytes) : std::string();
}

std::optional<double> Statement::Number(int column) const {
  if (sqlite3_column_type(statement_.get(), column) == SQLITE_NULL) return std::nullopt;
  return sqlite3_column_double(statement_.get(), column);
}

std::optional<std::int64_t> Statement::MaybeInt(int column) const {
  if (sqlite3_column_type(statement_.get(), column) == SQLITE_NULL) return std::nullopt;
  return Int(column);
}

Result<std::unique_ptr<Database>> Database::Open(const std::string& file) {
  sqlite3* raw = nullptr;
  const int code = sqlite3_open_v2(file.c_str(), &raw, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, nullptr);
  std::unique_ptr<Database> db(new Database(raw, file));
  if (code != SQLITE_OK) return db->Failure("opened");
  sqlite3_busy_timeout(raw, 5000);
  for (const char* sql : {"PRAGMA journal_mode=WAL", "PRAGMA foreign_keys=ON", "PRAGMA synchronous=FULL"}) {
    if (Status s = db->Run(sql); !s.ok()) return s;
  }
  return db;
}

Database::~Database() { sqlite3_close_v2(db_); }

Status Database::Run(const std::string& sql) {
  return sqlite3_exec(db_, sql.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK ? Status::Ok() : Failure("written");
}

Status Database::Transaction(const std::function<Status()>& work) {
  if (sqlite3_get_autocommit(db_) == 0) return work();  // part of a larger one
  if (Status s = Run("BEGIN IMMEDIATE"); !s.ok()) return s;
  Status s = work();
  if (s.ok()) s = Run("COMMIT");
  // A failed COMMIT (a full disk) leaves the transaction open; what SQLite has rolled back itself is no error here.
  if (!s.ok() && sqlite3_get_autocommit(db_) == 0) sqlite3_exec(db_, "ROLLBACK", nullptr, nullptr, nullptr);
  return s;
}

Status Database::Failure(const std::string& doing) const {
  const int code = db_ ? sqlite3_errcode(db_) : SQLITE_NOMEM;
  std::string why = db_ ? sqlite3_errmsg(db_) : "out of memory";
  if (code == SQLITE_NOTADB) why = "it is no library of shots";
  if (code == SQLITE_BUSY) why = "another program is writing to it; try again";
  if (code == SQLITE_FULL) why = "the disk is full; what was saved before still stands";
  if (code == SQLITE_IOERR) why = "the disk does not take it (full, or at fault); what was saved before still stands";
  return Status(StatusCode::kBadFile, "The library " + file_ + " could not be " + doing + ": " + why + ".");
}

}  // namespace hookline::library
