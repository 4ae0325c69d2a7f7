#version 330 core
// Stored luma and chroma planes become the picture as shown: lens taken out, turned upright, made colour.
in vec2 at;  // px of the shown picture, (0,0) its outer corner
out vec4 colour;
uniform sampler2D luma, cb, cr;
uniform vec2 size;         // of the shown picture, px
uniform bvec3 orientation; // transpose, mirror x, mirror y: from stored to shown
uniform vec2 chroma_part;  // how much of the chroma planes the picture covers: below 1 for odd sizes
uniform mat3 rgb_from_ycc;
uniform vec3 ycc_zero;     // what black has
uniform bool straighten;
uniform vec4 lens;         // focal length and centre, px from the outer corner
uniform vec2 bend;         // k1, k2
void main() {
  vec2 p = at;
  if (straighten) {
    // The picture without distortion shows at this place what the lens put at that one.
    vec2 n = (p - lens.zw) / lens.xy;
    float r2 = dot(n, n);
    p = lens.zw + lens.xy * n * (1.0 + r2 * (bend.x + bend.y * r2));
  }
  vec2 uv = p / size;
  if (any(lessThan(uv, vec2(0.0))) || any(greaterThan(uv, vec2(1.0)))) {
    colour = vec4(0.0, 0.0, 0.0, 1.0);
    return;
  }
  if (orientation.y) uv.x = 1.0 - uv.x;
  if (orientation.z) uv.y = 1.0 - uv.y;
  if (orientation.x) uv = uv.yx;
  vec2 c = uv * chroma_part;
  vec3 ycc = vec3(texture(luma, uv).r, texture(cb, c).r, texture(cr, c).r);
  colour = vec4(clamp(rgb_from_ycc * (ycc - ycc_zero), 0.0, 1.0), 1.0);
}
