// The bowling hall without what moves: room, lamps, lanes with gutters and division strips, markings, masking,
// kickbacks, pit, standing pins of lanes not in play, ball return, screens, people who stand still. Answers where a ray
// ends and what light leaves that place towards it. Metres, lane frame, single precision (better than 0.01 mm over the
// room).
//
// Light is linear; 1 is what a white sheet on the approach sends under the hall's lamps. Lamps are points for diffuse
// light and bright areas for mirrors. A lane's mirror follows Schlick's form of Fresnel's law, F = gloss (0.04 + 0.96
// (1 - cos)^5), with a random tilt of the normal (roughness).
#pragma once

#include <array>
#include <vector>

#include "synth/figure.h"
#include "synth/textures.h"

namespace hookline::synth {

enum class Ground : std::uint8_t {
  kNone,
  kLane,
  kApproach,
  kTrough
};  // what a moving thing's shadow and mirror may fall on

struct Spot {
  float t = kMiss;
  V3 p = V3::Zero(), n = V3::UnitZ();
  V3 albedo = V3::Zero(), glow = V3::Zero();
  float gloss = 0;      // mirror strength
  float roughness = 0;  // rms slope
  Ground ground = Ground::kNone;
};

// Colours of one person or thing.
struct PartLook {
  V3 colour, colour_2;
  std::uint8_t style = 0;  // 0 plain, 1 hoops, 2 halves
  float gloss = 0;
};
std::array<PartLook, static_cast<std::size_t>(Garment::kCount)> LooksOf(const FigureSpec& figure);
V3 ColourOf(const PartLook& look, const V3& p_from_foot, float side);

// Something round that keeps light from the floor.
struct Caster {
  V3 centre;
  float radius;
};

class Hall {
 public:
  explicit Hall(const Scenario& scenario);

  // pixel_angle: width of a pixel as seen from the ray's start, rad.
  Spot Trace(const Ray& ray, float pixel_angle) const;
  // Light that falls on a place (times albedo = light sent out).
  V3 LightOn(const V3& p, const V3& n) const;
  // Light without mirrors; what a mirror shows.
  V3 Sent(const Spot& spot) const { return spot.glow + V3(spot.albedo.cwiseProduct(LightOn(spot.p, spot.n))); }
  V3 Radiance(const Ray& ray, float pixel_angle) const;
  static float Fresnel(float cosine) {
    const float m = 1 - cosine, m2 = m * m;
    return 0.04f + 0.96f * m2 * m2 * m;
  }
  // Share of light that reaches a floor point past the casters: from everywhere, and from the strongest lamps.
  float Unshaded(const V3& p, const Caster* casters, std::size_t count) const;

  float lane_half_width() const { return half_; }
  float gutter_depth() const { return gutter_depth_; }
  const std::vector<float>& centres() const { return centres_; }
  int own_lane() const { return own_; }  // index of x = 0 in centres()
  // Lanes whose pins are drawn by the one who moves them.
  void SetPinsLeftOut(int lane_index) { pins_left_out_[static_cast<std::size_t>(lane_index)] = true; }
  V3 PinColour(float height) const;
  struct Light {
    V3 at, light;
    float radius;
  };
  const std::vector<Light>& key_lights() const { return key_; }

 private:
  struct Lamp {
    float x, y, half_x, half_y;
    bool round;
    V3 glow;
  };
  struct Solid {
    enum class Kind { kCone, kBox, kBall } kind;
    V3 a, b;
    float ra = 0, rb = 0;
    PartLook look;
    V3 glow = V3::Zero();
    int ball = -1;  // index into ball_looks_
    V3 foot = V3::Zero();
    float facing_x = 1;
  };
  struct Group {
    V3 centre = V3::Zero();
    float radius = 0;
    std::vector<Solid> solids;
    std::vector<Caster> casters;
    void Close();
  };
  void PlaceLamps(const Scenario& s);
  void PlaceThings(const Scenario& s);
  void TraceFloor(const Ray& ray, float pixel_angle, Spot& spot) const;
  void TraceDeck(const Ray& ray, float pixel_angle, Spot& spot) const;
  void TraceRoom(const Ray& ray, float pixel_angle, Spot& spot) const;
  void PaintFloor(const Ray& ray, float pixel_angle, int lane, Spot& spot) const;
  int LaneAt(float x) const;  // index of the nearest lane

  HallSpec spec_;
  std::uint32_t seed_;
  std::vector<float> centres_;
  std::vector<bool> pins_left_out_;
  int own_ = 0;
  float half_, gutter_, gutter_depth_, trough_radius_, cap_;
  float left_, right_, ceiling_, masking_y_, masking_low_, masking_high_, foul_half_;
  float gloss_, approach_gloss_, roughness_;
  WoodLook lane_wood_, approach_wood_;
  MarkLook marks_;
  V3 mark_colour_, foul_colour_, gutter_colour_, cap_colour_, wall_, wall_2_, ceiling_colour_, deck_side_, pit_, band_;
  std::array<V3, 3> masking_;
  V3 ambient_, lamp_colour_;
  float pin_light_, light_scale_ = 1;
  std::vector<Lamp> lamps_;
  std::vector<Light> lights_, key_;
  std::vector<Group> groups_;
  std::vector<BallLook> ball_looks_;
};

}  // namespace hookline::synth
