#include "report/pdf_page.h"

#include <cairo-pdf.h>
#include <pango/pangocairo.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace hookline::report {
namespace {

// A4 in points.
constexpr double kSheetWidth = 595.28, kSheetHeight = 841.89, kMargin = 42, kWidth = kSheetWidth - 2 * kMargin;
constexpr double kBody = 9.5, kSmall = 8, kHead1 = 19, kHead2 = 14, kHead3 = 10.5;

struct Rgb {
  double r, g, b;
};
constexpr Rgb Hex(unsigned v) { return {(v >> 16 & 255) / 255.0, (v >> 8 & 255) / 255.0, (v & 255) / 255.0}; }
// The inks of the HTML page's light theme and its print sheet.
constexpr Rgb kText = Hex(0x000000), kQuiet = Hex(0x444444), kRule = Hex(0xbbbbbb), kWood = Hex(0xf4eee2),
              kGrid = Hex(0xc2b8a6), kAccent = Hex(0xb34700), kWhite = Hex(0xffffff);
constexpr Rgb kShots[kShotInks] = {Hex(0x005a9c), Hex(0xb34700), Hex(0x00664b),
                                   Hex(0x8a2c73), Hex(0x5b5300), Hex(0x3a3fae)};

Rgb InkOf(const FigureShape& s) {
  switch (s.ink) {
    case Ink::kText:
      return kText;
    case Ink::kQuiet:
      return kQuiet;
    case Ink::kGrid:
      return kGrid;
    case Ink::kWood:
      return kWood;
    case Ink::kShot:
      break;
  }
  return kShots[s.shot_ink % kShotInks];
}

struct Release {
  void operator()(PangoLayout* l) const { g_object_unref(l); }
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
  void operator()(cairo_t* c) const { cairo_destroy(c); }
};
using Layout = std::unique_ptr<PangoLayout, Release>;

// Words may come from anywhere: Pango wants UTF-8.
std::string Valid(const std::string& text) {
  char* made = g_utf8_make_valid(text.c_str(), static_cast<gssize>(text.size()));
  std::string out = made;
  g_free(made);
  return out;
}

class Sheets {
 public:
  Sheets()
      : surface_(cairo_pdf_surface_create_for_stream(&Sheets::Take, this, kSheetWidth, kSheetHeight)),
        cairo_(cairo_create(surface_.get())) {}

  cairo_t* cairo() { return cairo_.get(); }
  double y() const { return y_; }
  void set_y(double y) { y_ = y; }
  void Skip(double h) { y_ += h; }
  double Left() const { return kSheetHeight - kMargin - y_; }
  bool AtTop() const { return y_ <= kMargin; }

  // Begins a new sheet when less than `height` is left on this one.
  void Need(double height) {
    if (height > Left() && !AtTop()) NewSheet();
  }
  void NewSheet() {
    Foot();
    cairo_show_page(cairo_.get());
    ++sheet_;
    y_ = kMargin;
  }

  Layout Make(const std::string& text, double size, double width, bool bold = false, int align = -1) {
    Layout layout(pango_cairo_create_layout(cairo_.get()));
    PangoFontDescription* font = pango_font_description_new();
    pango_font_description_set_family(font, "DejaVu Sans");
    pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
    if (bold) pango_font_description_set_weight(font, PANGO_WEIGHT_BOLD);
    pango_layout_set_font_description(layout.get(), font);
    pango_font_description_free(font);
    const std::string valid = Valid(text);
    pango_layout_set_text(layout.get(), valid.c_str(), static_cast<int>(valid.size()));
    if (width > 0) {
      pango_layout_set_width(layout.get(), static_cast<int>(width * PANGO_SCALE));
      pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
      pango_layout_set_alignment(layout.get(), align < 0   ? PANGO_ALIGN_LEFT
                                               : align > 0 ? PANGO_ALIGN_RIGHT
                                                           : PANGO_ALIGN_CENTER);
    }
    return layout;
  }
  static double HeightOf(const Layout& layout) {
    int w = 0, h = 0;
    pango_layout_get_size(layout.get(), &w, &h);
    return static_cast<double>(h) / PANGO_SCALE;
  }
  static double WidthOf(const Layout& layout) {
    int w = 0, h = 0;
    pango_layout_get_size(layout.get(), &w, &h);
    return static_cast<double>(w) / PANGO_SCALE;
  }
  void Ink(Rgb c, double alpha = 1) { cairo_set_source_rgba(cairo_.get(), c.r, c.g, c.b, alpha); }
  void Put(const Layout& layout, double x, double y, Rgb colour) {
    Ink(colour);
    cairo_move_to(cairo_.get(), x, y);
    pango_cairo_show_layout(cairo_.get(), layout.get());
  }
  void Rule(double x0, double x1, double y, Rgb colour, double width = 0.6) {
    Ink(colour);
    cairo_set_line_width(cairo_.get(), width);
    cairo_move_to(cairo_.get(), x0, y);
    cairo_line_to(cairo_.get(), x1, y);
    cairo_stroke(cairo_.get());
  }
  // A paragraph that is kept together; `with` more points stay on the same sheet as it.
  void Paragraph(const std::string& text, double size, Rgb colour, bool bold = false, double with = 0,
                 double x = kMargin, double width = kWidth) {
    if (text.empty()) return;
    const Layout layout = Make(text, size, width, bold);
    const double h = HeightOf(layout);
    Need(h + with);
    Put(layout, x, y_, colour);
    y_ += h + 0.35 * size;
  }

  Result<std::string> Finish() {
    Foot();
    cairo_show_page(cairo_.get());
    cairo_surface_finish(surface_.get());
    if (cairo_status(cairo_.get()) != CAIRO_STATUS_SUCCESS ||
        cairo_surface_status(surface_.get()) != CAIRO_STATUS_SUCCESS)
      return Status(StatusCode::kInternal, std::string("The PDF could not be drawn: ") +
                                               cairo_status_to_string(cairo_status(cairo_.get())) + ".");
    return std::move(bytes_);
  }
  cairo_surface_t* surface() { return surface_.get(); }

 private:
  static cairo_status_t Take(void* self, const unsigned char* data, unsigned length) {
    static_cast<Sheets*>(self)->bytes_.append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
  }
  void Foot() {
    const Layout n = Make(std::to_string(sheet_), kSmall, kWidth, false, 1);
    Put(n, kMargin, kSheetHeight - kMargin + 12, kQuiet);
  }
  std::string bytes_;
  std::unique_ptr<cairo_surface_t, Release> surface_;
  std::unique_ptr<cairo_t, Release> cairo_;
  int sheet_ = 1;
  double y_ = kMargin;
};

void Trace(cairo_t* c, const std::vector<Eigen::Vector2d>& points, bool closed) {
  cairo_new_path(c);
  for (const Eigen::Vector2d& p : points) cairo_line_to(c, p.x(), p.y());
  if (closed) cairo_close_path(c);
}

void DrawShape(Sheets& sheets, const FigureShape& s) {
  using Kind = FigureShape::Kind;
  if (s.points.empty()) return;
  cairo_t* c = sheets.cairo();
  switch (s.kind) {
    case Kind::kLine: {
      const std::vector<double> dash = s.dashed ? DashOf(s.shot_ink) : std::vector<double>();
      cairo_set_dash(c, dash.data(), static_cast<int>(dash.size()), 0);
      cairo_set_line_width(c, s.width);
      cairo_set_line_join(c, CAIRO_LINE_JOIN_ROUND);
      Trace(c, s.points, false);
      sheets.Ink(InkOf(s));
      cairo_stroke(c);
      cairo_set_dash(c, nullptr, 0, 0);
      return;
    }
    case Kind::kArea:
      Trace(c, s.points, true);
      sheets.Ink(InkOf(s), s.opacity);
      cairo_fill(c);
      return;
    case Kind::kMarker:
      Trace(c, MarkerOutline(s.shot_ink, s.points.front(), s.size), true);
      sheets.Ink(InkOf(s));
      cairo_fill_preserve(c);
      sheets.Ink(kWhite);
      cairo_set_line_width(c, 1);
      cairo_stroke(c);
      return;
    case Kind::kText:
      break;
  }
  const Layout layout = sheets.Make(s.text, s.size, 0);
  const double w = Sheets::WidthOf(layout), h = Sheets::HeightOf(layout);
  const double x = s.points.front().x() - (s.align + 1) / 2.0 * w;
  sheets.Put(layout, x, s.points.front().y() - h / 2, InkOf(s));
}

// Height a figure takes at a width, with its title and caption.
double FigureHeight(Sheets& sheets, const PageFigure& f, double width) {
  if (f.empty()) return 0;
  return Sheets::HeightOf(sheets.Make(f.title, kHead3, width, true)) + 3 + f.height * width / f.width +
         Sheets::HeightOf(sheets.Make(f.caption, kSmall, width)) + 10;
}

void DrawFigure(Sheets& sheets, const PageFigure& f, double x, double width) {
  if (f.empty()) return;
  const Layout title = sheets.Make(f.title, kHead3, width, true), caption = sheets.Make(f.caption, kSmall, width);
  sheets.Put(title, x, sheets.y(), kText);
  sheets.Skip(Sheets::HeightOf(title) + 3);
  const double scale = width / f.width;
  cairo_save(sheets.cairo());
  cairo_translate(sheets.cairo(), x, sheets.y());
  cairo_scale(sheets.cairo(), scale, scale);
  for (const FigureShape& s : f.shapes) DrawShape(sheets, s);
  cairo_restore(sheets.cairo());
  sheets.Skip(f.height * scale);
  sheets.Put(caption, x, sheets.y(), kQuiet);
  sheets.Skip(Sheets::HeightOf(caption) + 10);
}

// The JPEG itself goes into the PDF; Cairo asks for an image of the same size beside it, which is never shown.
void DrawPicture(Sheets& sheets, const PagePicture& p, double x, double width) {
  const double height = width * p.height / p.width;
  cairo_surface_t* image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, p.width, p.height);
  auto* copy = new std::string(p.jpeg);
  cairo_surface_set_mime_data(
      image, CAIRO_MIME_TYPE_JPEG, reinterpret_cast<const unsigned char*>(copy->data()), copy->size(),
      [](void* s) { delete static_cast<std::string*>(s); }, copy);
  cairo_t* c = sheets.cairo();
  cairo_save(c);
  cairo_translate(c, x, sheets.y());
  cairo_scale(c, width / p.width, height / p.height);
  cairo_set_source_surface(c, image, 0, 0);
  cairo_paint(c);
  cairo_restore(c);
  cairo_surface_destroy(image);
  sheets.Skip(height + 3);
  const Layout caption = sheets.Make(p.caption, kSmall, width);
  sheets.Put(caption, x, sheets.y(), kQuiet);
  sheets.Skip(Sheets::HeightOf(caption) + 8);
}

void Heading(Sheets& sheets, const std::string& text, double with) {
  sheets.Skip(sheets.AtTop() ? 0 : 8);
  sheets.Paragraph(text, kHead2, kText, true, with);
}

void List(Sheets& sheets, const std::vector<std::string>& items) {
  for (const std::string& item : items) {
    const Layout text = sheets.Make(item, kBody, kWidth - 12);
    const double h = Sheets::HeightOf(text);
    sheets.Need(h);
    sheets.Put(sheets.Make("•", kBody, 0), kMargin, sheets.y(), kQuiet);
    sheets.Put(text, kMargin + 12, sheets.y(), kText);
    sheets.Skip(h + 3);
  }
}

void DrawAdvice(Sheets& sheets, const PageAdvice& a) {
  const double inner = kWidth - 18;
  const Layout head = sheets.Make(a.sure.empty() ? a.head : a.head + "  (" + a.sure + ")", kBody, inner, true);
  const Layout text = sheets.Make(a.text, kBody, inner);
  const double h = Sheets::HeightOf(head) + Sheets::HeightOf(text) + 8;
  sheets.Need(h);
  const double top = sheets.y();
  sheets.Put(head, kMargin + 12, top + 3, kText);
  sheets.Put(text, kMargin + 12, top + 4 + Sheets::HeightOf(head), kText);
  sheets.Ink(kAccent);
  cairo_rectangle(sheets.cairo(), kMargin, top, 3, h);
  cairo_fill(sheets.cairo());
  sheets.Skip(h + 5);
}

// Rows of a table of measures in a column of the sheet; returns the height when `draw` is false.
double DrawTable(Sheets& sheets, const PageTable& table, double x, double width, bool draw) {
  double y = sheets.y();
  const auto put = [&](const Layout& l, double at, Rgb colour) {
    if (draw) sheets.Put(l, at, y, colour);
    return Sheets::HeightOf(l);
  };
  const double name = 0.42 * width, unit = 34;
  y += put(sheets.Make(table.title, kHead3, width, true), x, kText) + 3;
  for (const PageRow& row : table.rows) {
    const double left = x + name + 4, right = x + width;
    double h = put(sheets.Make(row.name, kBody, name), x, kText);
    if (row.value.empty()) {
      h = std::max(h, put(sheets.Make("– " + row.reason, kSmall, right - left), left, kQuiet));
    } else {
      h = std::max(h,
                   put(sheets.Make(row.value + " ±" + row.doubt, kBody, right - left - unit, false, 1), left, kText));
      h = std::max(h, put(sheets.Make(row.unit, kBody, unit - 6), right - unit + 6, kQuiet));
    }
    y += h + 2;
    if (draw) sheets.Rule(x, x + width, y, kRule, 0.4);
    y += 2;
  }
  const double height = y - sheets.y() + 8;
  if (draw) sheets.Skip(height);
  return height;
}

void DrawOverview(Sheets& sheets, const PageOverview& o, double x, double width) {
  const double first = 28, column = (width - first) / static_cast<double>(std::max<std::size_t>(1, o.heads.size()));
  const auto heads = [&] {
    double h = 0;
    for (std::size_t i = 0; i < o.heads.size(); ++i) {
      const Layout l = sheets.Make(o.heads[i] + "\n" + o.units[i], kSmall, column - 4, false, 1);
      sheets.Put(l, x + first + column * static_cast<double>(i), sheets.y(), kQuiet);
      h = std::max(h, Sheets::HeightOf(l));
    }
    sheets.Put(sheets.Make("shot", kSmall, 0), x, sheets.y(), kQuiet);
    sheets.Skip(h + 2);
    sheets.Rule(x, x + width, sheets.y(), kText);
    sheets.Skip(2);
  };
  sheets.Need(60);
  heads();
  for (const PageOverview::Row& row : o.rows) {
    const double h = 2.5 * kBody;
    if (h > sheets.Left()) {
      sheets.NewSheet();
      heads();
    }
    sheets.Put(sheets.Make(row.name, kBody, 0), x, sheets.y(), kText);
    for (std::size_t i = 0; i < row.cells.size(); ++i) {
      const auto& c = row.cells[i];
      const double at = x + first + column * static_cast<double>(i);
      sheets.Put(sheets.Make(c.value.empty() ? "–" : c.value, kBody, column - 4, false, 1), at, sheets.y(), kText);
      if (!c.value.empty())
        sheets.Put(sheets.Make("±" + c.doubt, kSmall, column - 4, false, 1), at, sheets.y() + 1.2 * kBody, kQuiet);
    }
    sheets.Skip(h);
    sheets.Rule(x, x + width, sheets.y(), kRule, 0.4);
    sheets.Skip(2);
  }
}

void DrawShot(Sheets& sheets, const PageShot& s) {
  Heading(sheets, s.title, 120);
  sheets.Paragraph(s.line, kBody, kQuiet);
  for (const std::string& sentence : s.in_words) sheets.Paragraph(sentence, kBody + 1, kText);
  if (!s.pictures.empty()) {
    // Side by side, as many as there are, none taller than a third of the sheet.
    constexpr double kGap = 10, kTallest = 250;
    const double n = static_cast<double>(s.pictures.size());
    double width = std::min((kWidth - (n - 1) * kGap) / n, 330.0);
    for (const PagePicture& p : s.pictures) width = std::min(width, kTallest * p.width / p.height);
    double height = 0;
    for (const PagePicture& p : s.pictures) height = std::max(height, width * p.height / p.width + 40);
    sheets.Need(height);
    const double top = sheets.y();
    double below = top, x = kMargin;
    for (const PagePicture& p : s.pictures) {
      sheets.set_y(top);
      DrawPicture(sheets, p, x, width);
      below = std::max(below, sheets.y());
      x += width + kGap;
    }
    sheets.set_y(below);
  }
  sheets.Paragraph(s.no_picture, kSmall, kQuiet);
  // The lane on the left, the plots on the right, on one sheet together.
  const double left = 0.44 * kWidth, gap = 14, right = kWidth - left - gap;
  double plots = 0;
  for (const PageFigure& f : s.plots) plots += FigureHeight(sheets, f, right);
  sheets.Need(std::max(FigureHeight(sheets, s.lane, left), plots));
  const double top = sheets.y();
  DrawFigure(sheets, s.lane, kMargin, left);
  const double below = sheets.y();
  sheets.set_y(top);
  for (const PageFigure& f : s.plots) DrawFigure(sheets, f, kMargin + left + gap, right);
  if (!s.no_plots.empty()) sheets.Paragraph(s.no_plots, kSmall, kQuiet, false, 0, kMargin + left + gap, right);
  sheets.set_y(std::max(below, sheets.y()));
  for (std::size_t i = 0; i < s.tables.size(); i += 2) {
    const double half = (kWidth - 18) / 2;
    const bool two = i + 1 < s.tables.size();
    const double height = std::max(DrawTable(sheets, s.tables[i], 0, half, false),
                                   two ? DrawTable(sheets, s.tables[i + 1], 0, half, false) : 0);
    sheets.Need(height);
    const double start = sheets.y();
    DrawTable(sheets, s.tables[i], kMargin, half, true);
    sheets.set_y(start);
    if (two) DrawTable(sheets, s.tables[i + 1], kMargin + half + 18, half, true);
    sheets.set_y(start + height);
  }
}

}  // namespace

Result<std::string> PagePdf(const Page& page) {
  Sheets sheets;
  cairo_pdf_surface_set_metadata(sheets.surface(), CAIRO_PDF_METADATA_TITLE, Valid(page.title).c_str());
  cairo_pdf_surface_set_metadata(sheets.surface(), CAIRO_PDF_METADATA_CREATOR, "Hookline");
  sheets.Paragraph(page.title, kHead1, kText, true);
  sheets.Paragraph(page.subtitle, kBody, kQuiet);
  if (!page.advice.empty()) {
    Heading(sheets, "What to try", 60);
    for (const PageAdvice& a : page.advice) DrawAdvice(sheets, a);
  }
  if (!page.overview.rows.empty()) {
    Heading(sheets, "All shots", FigureHeight(sheets, page.lane, 0.42 * kWidth));
    const double left = 0.42 * kWidth, gap = 14, top = sheets.y();
    DrawFigure(sheets, page.lane, kMargin, left);
    sheets.set_y(top);
    DrawOverview(sheets, page.overview, kMargin + left + gap, kWidth - left - gap);
    // What follows begins on its own sheet anyway.
  }
  for (const PageShot& s : page.shots) {
    if (page.shots.size() > 1) sheets.NewSheet();
    DrawShot(sheets, s);
  }
  Heading(sheets, "How to read this", 40);
  List(sheets, page.how_to_read);
  Heading(sheets, "With care", 40);
  List(sheets, page.cautions);
  if (!page.warnings.empty()) {
    Heading(sheets, "What the measuring noted", 40);
    List(sheets, page.warnings);
  }
  sheets.Skip(6);
  sheets.Paragraph(page.maker, kSmall, kQuiet);
  return sheets.Finish();
}

}  // namespace hookline::report
