#include "report/page_svg.h"

#include "report/number_text.h"

namespace hookline::report {
namespace {

std::string Number(double v) { return FixedText(v, 1); }

const char* InkClass(Ink ink) {
  switch (ink) {
    case Ink::kText:
      return "text";
    case Ink::kQuiet:
      return "quiet";
    case Ink::kGrid:
      return "grid";
    case Ink::kWood:
      return "wood";
    case Ink::kShot:
      break;
  }
  return "shot";
}

std::string ClassOf(const char* kind, const FigureShape& s) {
  std::string c = std::string(kind) + " " + InkClass(s.ink);
  if (s.ink == Ink::kShot) c += std::to_string(s.shot_ink % kShotInks);
  return " class=\"" + c + "\"";
}

std::string Points(const std::vector<Eigen::Vector2d>& points) {
  std::string out;
  for (const Eigen::Vector2d& p : points) {
    if (!out.empty()) out += ' ';
    out += Number(p.x()) + "," + Number(p.y());
  }
  return " points=\"" + out + "\"";
}

std::string ShapeSvg(const FigureShape& s) {
  using Kind = FigureShape::Kind;
  if (s.points.empty()) return {};
  switch (s.kind) {
    case Kind::kLine: {
      std::string dash;
      if (s.dashed)
        for (const double d : DashOf(s.shot_ink)) dash += (dash.empty() ? "" : " ") + Number(d);
      return "<polyline" + ClassOf("line", s) + Points(s.points) + " stroke-width=\"" + Number(s.width) + "\"" +
             (dash.empty() ? "" : " stroke-dasharray=\"" + dash + "\"") + "/>\n";
    }
    case Kind::kArea:
      return "<polygon" + ClassOf("area", s) + Points(s.points) + " fill-opacity=\"" + FixedText(s.opacity, 2) +
             "\"/>\n";
    case Kind::kMarker:
      return "<polygon" + ClassOf("mark", s) + Points(MarkerOutline(s.shot_ink, s.points.front(), s.size)) + "/>\n";
    case Kind::kText:
      break;
  }
  const char* anchor = s.align < 0 ? "start" : s.align > 0 ? "end" : "middle";
  // A third of the height below its middle is where a line of figures stands; said in numbers, because not every
  // viewer knows dominant-baseline.
  return "<text" + ClassOf("word", s) + " x=\"" + Number(s.points.front().x()) + "\" y=\"" +
         Number(s.points.front().y() + 0.35 * s.size) + "\" font-size=\"" + Number(s.size) + "\" text-anchor=\"" +
         anchor + "\">" + Escaped(s.text) + "</text>\n";
}

// Length of the UTF-8 character that begins at `i`; 0 when there is none.
std::size_t CharacterAt(const std::string& text, std::size_t i) {
  const auto byte = [&](std::size_t k) { return static_cast<unsigned char>(text[k]); };
  const unsigned char b = byte(i);
  const std::size_t n = b < 0x80                ? 1
                        : b >= 0xC2 && b < 0xE0 ? 2
                        : b >= 0xE0 && b < 0xF0 ? 3
                        : b >= 0xF0 && b < 0xF5 ? 4
                                                : 0;
  if (n == 0 || i + n > text.size()) return 0;
  for (std::size_t k = 1; k < n; ++k)
    if ((byte(i + k) & 0xC0) != 0x80) return 0;
  // Overlong forms, surrogates, and what lies beyond the last code point.
  if ((b == 0xE0 && byte(i + 1) < 0xA0) || (b == 0xED && byte(i + 1) > 0x9F) || (b == 0xF0 && byte(i + 1) < 0x90) ||
      (b == 0xF4 && byte(i + 1) > 0x8F))
    return 0;
  return n;
}

}  // namespace

std::string Escaped(const std::string& text) {
  std::string out;
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t n = CharacterAt(text, i);
    const unsigned char c = static_cast<unsigned char>(text[i]);
    if (n == 0 || (c < 0x20 && c != '\n' && c != '\t') || c == 0x7F) {
      out += "\xEF\xBF\xBD";
      i += 1;
      continue;
    }
    switch (text[i]) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out.append(text, i, n);
    }
    i += n;
  }
  return out;
}

std::string FigureSvg(const PageFigure& figure) {
  std::string out = "<svg viewBox=\"0 0 " + Number(figure.width) + " " + Number(figure.height) +
                    "\" role=\"img\" aria-label=\"" + Escaped(figure.title + ". " + figure.caption) + "\">\n";
  for (const FigureShape& s : figure.shapes) out += ShapeSvg(s);
  return out + "</svg>\n";
}

}  // namespace hookline::report
