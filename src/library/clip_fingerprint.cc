#include "library/clip_fingerprint.h"

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <vector>

namespace hookline::library {
namespace {

constexpr std::int64_t kEnd = 1 << 20, kPiece = 64 << 10, kPieces = 16;

class Hash {
 public:
  void Add(const char* bytes, std::size_t count) {
    for (std::size_t i = 0; i < count; ++i) {
      const auto byte = static_cast<unsigned char>(bytes[i]);
      a_ = (a_ ^ byte) * 0x100000001B3ULL;
      b_ = (b_ + byte) * 0x9E3779B97F4A7C15ULL;
      b_ ^= b_ >> 29;
    }
  }
  std::string Text() const {
    char text[40];
    std::snprintf(text, sizeof text, "%016llx%016llx", static_cast<unsigned long long>(Mixed(a_)),
                  static_cast<unsigned long long>(Mixed(b_)));
    return text;
  }

 private:
  static std::uint64_t Mixed(std::uint64_t z) {
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31);
  }
  std::uint64_t a_ = 0xCBF29CE484222325ULL, b_ = 0x9E3779B97F4A7C15ULL;
};

}  // namespace

Result<ClipFingerprint> FingerprintOf(const std::string& file) {
  const auto bad = [&] { return Status(StatusCode::kBadFile, file + ": the clip cannot be read to know it again."); };
  std::ifstream in(file, std::ios::binary | std::ios::ate);
  if (!in) return bad();
  ClipFingerprint print;
  print.size = static_cast<std::int64_t>(in.tellg());
  if (print.size < 0) return bad();
  Hash hash;
  const std::string size = std::to_string(print.size);
  hash.Add(size.data(), size.size());
  std::vector<char> buffer;
  const auto add = [&](std::int64_t from, std::int64_t count) {
    buffer.resize(static_cast<std::size_t>(count));
    in.seekg(from);
    in.read(buffer.data(), count);
    hash.Add(buffer.data(), static_cast<std::size_t>(in.gcount()));
    return in.gcount() == count;
  };
  bool read = true;
  if (print.size <= 2 * kEnd + kPieces * kPiece) {
    read = print.size == 0 || add(0, print.size);
  } else {
    read = add(0, kEnd) && add(print.size - kEnd, kEnd);
    const std::int64_t between = print.size - 2 * kEnd;
    for (std::int64_t i = 0; read && i < kPieces; ++i)
      read = add(kEnd + (between - kPiece) * i / (kPieces - 1), kPiece);
  }
  if (!read) return bad();
  print.text = hash.Text();
  return print;
}

}  // namespace hookline::library
