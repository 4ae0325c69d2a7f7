#include "library/database.h"
#include "library/library.h"

namespace hookline::library {

Result<std::int64_t> Library::PutSetup(const StoredSetup& setup) {
  if (setup.document.empty()) return Status(StatusCode::kBadUse, "A lane setup without content cannot be kept.");
  std::int64_t id = 0;
  const Status s = db_->Transaction([&]() -> Status {
    const auto lane = LaneId(setup.place, setup.lane);
    if (!lane.ok()) return lane.status();
    Statement put(db_->get(),
                  "INSERT INTO lane_setup (lane_id, name, document) VALUES (?1, ?2, ?3)"
                  " ON CONFLICT (lane_id, name) DO UPDATE SET document = ?3");
    put.Bind(1, *lane).Bind(2, setup.name).Bind(3, setup.document);
    if (put.Step() != SQLITE_DONE) return db_->Failure("written");
    Statement find(db_->get(), "SELECT id FROM lane_setup WHERE lane_id = ? AND name = ?");
    find.Bind(1, *lane).Bind(2, setup.name);
    if (find.Step() != SQLITE_ROW) return db_->Failure("read");
    id = find.Int(0);
    return Status::Ok();
  });
  if (!s.ok()) return s;
  return id;
}

Result<std::vector<StoredSetup>> Library::Setups(const std::string& place, const std::string& lane,
                                                 const std::string& name) const {
  Statement s(
      db_->get(),
      "SELECT lane_setup.id, place.name, lane.name, lane_setup.name, document FROM lane_setup"
      " JOIN lane ON lane.id = lane_id JOIN place ON place.id = place_id"
      " WHERE (?1 = '' OR place.name = ?1) AND (?2 = '' OR lane.name = ?2) AND (?3 = '' OR lane_setup.name = ?3)"
      " ORDER BY place.name, lane.name, lane_setup.name");
  s.Bind(1, place).Bind(2, lane).Bind(3, name);
  std::vector<StoredSetup> out;
  int code = SQLITE_DONE;
  while ((code = s.Step()) == SQLITE_ROW) out.push_back({s.Int(0), s.Text(1), s.Text(2), s.Text(3), s.Text(4)});
  if (code != SQLITE_DONE) return db_->Failure("read");
  return out;
}

Status Library::RemoveSetup(std::int64_t id) {
  return db_->Transaction([&]() -> Status {
    Statement remove(db_->get(), "DELETE FROM lane_setup WHERE id = ?");
    remove.Bind(1, id);
    if (remove.Step() != SQLITE_DONE) return db_->Failure("written");
    return db_->Changes() == 1
               ? Status::Ok()
               : Status(StatusCode::kBadUse, "There is no lane setup with the id " + std::to_string(id) + ".");
  });
}

}  // namespace hookline::library
