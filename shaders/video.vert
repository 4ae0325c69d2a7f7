#version 330 core
// A rectangle of the window and the part of the picture that it shows, as a strip of four corners.
uniform vec4 place;    // left, top, right, bottom in clip space
uniform vec4 picture;  // the same corners in the shown picture, px from its outer edge
out vec2 at;
void main() {
  vec2 corner = vec2(gl_VertexID & 1, gl_VertexID >> 1);
  gl_Position = vec4(mix(place.xy, place.zw, corner), 0.0, 1.0);
  at = mix(picture.xy, picture.zw, corner);
}
