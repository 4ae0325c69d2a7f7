#include "viewer/damage.h"

#include <algorithm>
#include <cstring>

namespace hookline::viewer {
namespace {

class Hash {
 public:
  void Add(const void* data, std::size_t size) {
    const auto* p = static_cast<const unsigned char*>(data);
    for (; size >= 8; p += 8, size -= 8) {
      std::uint64_t word = 0;
      std::memcpy(&word, p, 8);
      Mix(word);
    }
    std::uint64_t rest = size;
    for (; size > 0; --size) rest = rest << 8 | *p++;
    Mix(rest);
  }
  void Mix(std::uint64_t word) {
    value_ = (value_ ^ word) * 0x9fb21c651e98df25ULL;
    value_ ^= value_ >> 29;
  }
  std::uint64_t value() const { return value_; }

 private:
  std::uint64_t value_ = 0xcbf29ce484222325ULL;
};

bool Empty(const ImVec4& r) { return r.z <= r.x || r.w <= r.y; }
ImVec4 Both(const ImVec4& a, const ImVec4& b) {
  if (Empty(a)) return b;
  if (Empty(b)) return a;
  return {std::min(a.x, b.x), std::min(a.y, b.y), std::max(a.z, b.z), std::max(a.w, b.w)};
}
bool Touch(const ImVec4& a, const ImVec4& b) { return a.x < b.z && b.x < a.z && a.y < b.w && b.y < a.w; }

}  // namespace

std::vector<ImVec4> Damage::Take(const ImDrawData& data) {
  std::vector<List> now;
  for (int i = 0; i < data.CmdListsCount; ++i) {
    const ImDrawList& list = *data.CmdLists[i];
    Hash hash;
    List one;
    hash.Add(list.VtxBuffer.Data, static_cast<std::size_t>(list.VtxBuffer.size_in_bytes()));
    hash.Add(list.IdxBuffer.Data, static_cast<std::size_t>(list.IdxBuffer.size_in_bytes()));
    for (const ImDrawCmd& c : list.CmdBuffer) {
      hash.Add(&c.ClipRect, sizeof c.ClipRect);
      hash.Mix(c.ElemCount);
      hash.Mix(reinterpret_cast<std::uintptr_t>(c.TextureId));
      const bool draws = c.UserCallback && c.UserCallback != ImDrawCallback_ResetRenderState;
      if (draws && c.UserCallbackData) hash.Mix(static_cast<const Stamped*>(c.UserCallbackData)->stamp);
      if (draws || c.ElemCount > 0) one.reach = Both(one.reach, c.ClipRect);
    }
    one.owner = list._OwnerName;
    one.hash = hash.value();
    now.push_back(one);
  }
  std::vector<ImVec4> damaged;
  const ImVec4 whole(data.DisplayPos.x, data.DisplayPos.y, data.DisplayPos.x + data.DisplaySize.x,
                     data.DisplayPos.y + data.DisplaySize.y);
  if (all_) {
    damaged.push_back(whole);
  } else {
    const auto add = [&](ImVec4 r) {
      r = {std::max(r.x, whole.x), std::max(r.y, whole.y), std::min(r.z, whole.z), std::min(r.w, whole.w)};
      if (Empty(r)) return;
      // Drawing a place twice would blend it twice.
      for (std::size_t k = 0; k < damaged.size();) {
        if (!Touch(r, damaged[k])) {
          ++k;
          continue;
        }
        r = Both(r, damaged[k]);
        damaged.erase(damaged.begin() + static_cast<std::ptrdiff_t>(k));
        k = 0;
      }
      damaged.push_back(r);
    };
    // Both in their order; what is passed over in the old one is gone.
    auto next = lists_.begin();
    for (const List& one : now) {
      const auto own = std::find_if(next, lists_.end(), [&](const List& l) { return l.owner == one.owner; });
      if (own == lists_.end()) {
        add(one.reach);
        continue;
      }
      for (; next != own; ++next) add(next->reach);
      ++next;
      if (own->hash == one.hash) continue;
      add(one.reach);
      add(own->reach);
    }
    for (; next != lists_.end(); ++next) add(next->reach);
  }
  all_ = false;
  lists_ = std::move(now);
  return damaged;
}

}  // namespace hookline::viewer
