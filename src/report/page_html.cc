#include "report/page_html.h"

#include <algorithm>

#include "report/page_svg.h"

namespace hookline::report {
namespace {

// Inks of shots: light and dark grounds have their own, each at least 4.5 to 1 (light) and 6 to 1 (dark) in contrast;
// told apart by brightness too, and never by colour alone (page_figure.h). The first pair is blue and orange, which
// stay apart in every common kind of colour blindness.
constexpr const char* kStyle = R"css(
:root{color-scheme:light dark;--ground:#fff;--card:#f4f6f8;--text:#18202a;--quiet:#566270;--rule:#d5dce3;--wood:#f0e6d6;
--grid:#b9ab93;--s0:#005a9c;--s1:#b34700;--s2:#00664b;--s3:#8a2c73;--s4:#5b5300;--s5:#3a3fae}
@media (prefers-color-scheme:dark){:root{--ground:#12181f;--card:#1c242d;--text:#eaf0f5;--quiet:#a9b6c2;--rule:#36424e;
--wood:#2b2a26;--grid:#5d584c;--s0:#70c4f0;--s1:#fab02c;--s2:#5fd3a6;--s3:#f0a0d8;--s4:#e4dc6a;--s5:#b3b6ff}}
@media print{:root{--ground:#fff;--card:#fff;--text:#000;--quiet:#444;--rule:#bbb;--wood:#f4eee2;--grid:#c2b8a6;
--s0:#005a9c;--s1:#b34700;--s2:#00664b;--s3:#8a2c73;--s4:#5b5300;--s5:#3a3fae}}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%}
body{margin:0;background:var(--ground);color:var(--text);font:1rem/1.5 system-ui,-apple-system,"Segoe UI",Roboto,
"DejaVu Sans",sans-serif;overflow-wrap:anywhere}
main{max-width:70rem;margin:0 auto;padding:1rem}
h1{font-size:1.7rem;line-height:1.2;margin:.5rem 0 .2rem}
h2{font-size:1.3rem;line-height:1.25;margin:0 0 .5rem}
h3{font-size:1rem;margin:1.2rem 0 .3rem}
p{margin:.4rem 0}
.quiet,figcaption{color:var(--quiet);font-size:.9rem}
section{margin:1.8rem 0}
.shot{border-top:2px solid var(--rule);padding-top:1.2rem}
.words{font-size:1.12rem}
.advice{background:var(--card);border:1px solid var(--rule);border-left:.35rem solid var(--s1);border-radius:.4rem;
padding:.7rem .9rem;margin:.6rem 0}
.advice b{display:block}
.sure{display:inline-block;border:1px solid var(--quiet);border-radius:1rem;padding:0 .6rem;font-size:.85rem;
color:var(--quiet);margin-left:.5rem;font-weight:400;white-space:nowrap}
figure{margin:0 0 1rem}
figure h3{margin-top:0}
figure img{display:block;width:100%;height:auto;border-radius:.4rem}
svg{display:block;width:100%;height:auto;max-width:34rem}
.pictures{display:grid;gap:1rem;margin:1rem 0}
.charts{display:grid;gap:1.2rem;margin:1rem 0}
.charts>div{min-width:0}
.lane svg{max-width:26rem}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
th,td{padding:.35rem .3rem;border-bottom:1px solid var(--rule);text-align:left;vertical-align:top}
thead th{font-weight:600;font-size:.85rem;color:var(--quiet)}
td.n,th.n{text-align:right}
.measures th{font-weight:400;width:42%}
.measures td.u{color:var(--quiet);width:4rem}
.doubt{color:var(--quiet);white-space:nowrap}
.all td.n .doubt{display:block;font-size:.8rem}
.tables{display:grid;gap:1rem 2rem}
.line{fill:none;stroke-linejoin:round;stroke-linecap:butt}
.area,.mark{stroke:none}.mark{stroke:var(--ground);stroke-width:1}
.word{font-family:inherit}
.line.text{stroke:var(--text)}.line.quiet{stroke:var(--quiet)}.line.grid{stroke:var(--grid)}
.area.text,.word.text{fill:var(--text)}.area.quiet,.word.quiet{fill:var(--quiet)}.area.wood{fill:var(--wood)}
.line.shot0{stroke:var(--s0)}.line.shot1{stroke:var(--s1)}.line.shot2{stroke:var(--s2)}.line.shot3{stroke:var(--s3)}
.line.shot4{stroke:var(--s4)}.line.shot5{stroke:var(--s5)}
.area.shot0,.mark.shot0{fill:var(--s0)}.area.shot1,.mark.shot1{fill:var(--s1)}.area.shot2,.mark.shot2{fill:var(--s2)}
.area.shot3,.mark.shot3{fill:var(--s3)}.area.shot4,.mark.shot4{fill:var(--s4)}.area.shot5,.mark.shot5{fill:var(--s5)}
ul{padding-left:1.2rem;margin:.4rem 0}li{margin:.3rem 0}
@media (min-width:50rem){main{padding:1.5rem 2rem}.pictures{grid-template-columns:repeat(auto-fit,minmax(24rem,1fr))}
.charts{grid-template-columns:minmax(0,5fr) minmax(0,6fr)}.tables{grid-template-columns:1fr 1fr}}
@media print{@page{margin:14mm}body{font-size:10pt}main{max-width:none;padding:0}section,.shot{margin:1rem 0}
.shot{break-before:page;border-top:0;padding-top:0}.charts{grid-template-columns:5fr 6fr}.tables{grid-template-columns:1fr 1fr}
.pictures{grid-template-columns:1fr 1fr}.lane svg{max-width:8.5cm}figure,.advice,tr,li,svg,img{break-inside:avoid}
h1,h2,h3{break-after:avoid}thead{display:table-header-group}}
)css";

std::string Paragraph(const std::string& text, const char* css_class = "") {
  if (text.empty()) return {};
  return std::string("<p") + (*css_class ? " class=\"" + std::string(css_class) + "\"" : "") + ">" + Escaped(text) +
         "</p>\n";
}

std::string FigureHtml(const PageFigure& f) {
  if (f.empty()) return {};
  return "<figure>\n<h3>" + Escaped(f.title) + "</h3>\n" + FigureSvg(f) + "<figcaption>" + Escaped(f.caption) +
         "</figcaption>\n</figure>\n";
}

std::string PictureHtml(const PagePicture& p) {
  return "<figure><img width=\"" + std::to_string(p.width) + "\" height=\"" + std::to_string(p.height) + "\" alt=\"" +
         Escaped(p.alt) + "\" src=\"data:image/jpeg;base64," + Base64(p.jpeg) + "\"><figcaption>" + Escaped(p.caption) +
         "</figcaption></figure>\n";
}

std::string ListHtml(const std::vector<std::string>& items) {
  std::string out = "<ul>\n";
  for (const std::string& item : items) out += "<li>" + Escaped(item) + "</li>\n";
  return out + "</ul>\n";
}

std::string TableHtml(const PageTable& table) {
  std::string out = "<div><h3>" + Escaped(table.title) + "</h3>\n<table class=\"measures\"><tbody>\n";
  for (const PageRow& row : table.rows) {
    out += "<tr><th scope=\"row\">" + Escaped(row.name) + "</th>";
    if (row.value.empty()) {
      out += "<td colspan=\"2\">– <span class=\"quiet\">" + Escaped(row.reason) + "</span></td>";
    } else {
      out += "<td class=\"n\">" + Escaped(row.value) + " <span class=\"doubt\">±" + Escaped(row.doubt) +
             "</span></td><td class=\"u\">" + Escaped(row.unit) + "</td>";
    }
    out += "</tr>\n";
  }
  return out + "</tbody></table></div>\n";
}

std::string OverviewHtml(const PageOverview& o) {
  std::string out = "<table class=\"all\"><thead><tr><th scope=\"col\">shot</th>";
  for (std::size_t i = 0; i < o.heads.size(); ++i)
    out += "<th class=\"n\" scope=\"col\">" + Escaped(o.heads[i]) + "<br>" + Escaped(o.units[i]) + "</th>";
  out += "</tr></thead><tbody>\n";
  for (const PageOverview::Row& row : o.rows) {
    out += "<tr><th scope=\"row\">" + Escaped(row.name) + "</th>";
    for (const PageOverview::Cell& c : row.cells) {
      out += "<td class=\"n\">";
      out += c.value.empty() ? "–" : Escaped(c.value) + " <span class=\"doubt\">±" + Escaped(c.doubt) + "</span>";
      out += "</td>";
    }
    out += "</tr>\n";
  }
  return out + "</tbody></table>\n";
}

std::string ShotHtml(const PageShot& s) {
  std::string out = "<section class=\"shot\">\n<h2>" + Escaped(s.title) + "</h2>\n" + Paragraph(s.line, "quiet");
  for (const std::string& sentence : s.in_words) out += Paragraph(sentence, "words");
  if (!s.pictures.empty()) {
    out += "<div class=\"pictures\">\n";
    for (const PagePicture& p : s.pictures) out += PictureHtml(p);
    out += "</div>\n";
  }
  out += Paragraph(s.no_picture, "quiet");
  out += "<div class=\"charts\">\n<div class=\"lane\">\n" + FigureHtml(s.lane) + "</div>\n<div>\n";
  for (const PageFigure& f : s.plots) out += FigureHtml(f);
  out += Paragraph(s.no_plots, "quiet") + "</div>\n</div>\n<div class=\"tables\">\n";
  for (const PageTable& t : s.tables) out += TableHtml(t);
  return out + "</div>\n</section>\n";
}

}  // namespace

std::string Base64(const std::string& bytes) {
  static constexpr char kDigits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    unsigned v = 0;
    const std::size_t n = std::min<std::size_t>(3, bytes.size() - i);
    for (std::size_t k = 0; k < 3; ++k) v = v << 8 | (k < n ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    for (std::size_t k = 0; k < 4; ++k) out += k <= n ? kDigits[v >> (18 - 6 * k) & 63U] : '=';
  }
  return out;
}

std::string PageHtml(const Page& page) {
  std::string out =
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src "
      "'unsafe-inline'; base-uri 'none'; form-action 'none'\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
      "<meta name=\"referrer\" content=\"no-referrer\">\n<title>" +
      Escaped(page.title) + "</title>\n<style>" + kStyle + "</style>\n</head>\n<body>\n<main>\n<header>\n<h1>" +
      Escaped(page.title) + "</h1>\n" + Paragraph(page.subtitle, "quiet") + "</header>\n";
  if (!page.advice.empty()) {
    out += "<section>\n<h2>What to try</h2>\n";
    for (const PageAdvice& a : page.advice) {
      out += "<div class=\"advice\"><b>" + Escaped(a.head);
      if (!a.sure.empty()) out += "<span class=\"sure\">" + Escaped(a.sure) + "</span>";
      out += "</b>" + Escaped(a.text) + "</div>\n";
    }
    out += "</section>\n";
  }
  if (!page.overview.rows.empty()) {
    out += "<section>\n<h2>All shots</h2>\n<div class=\"charts\">\n<div class=\"lane\">\n" + FigureHtml(page.lane) +
           "</div>\n<div>\n" + OverviewHtml(page.overview) + "</div>\n</div>\n</section>\n";
  }
  for (const PageShot& s : page.shots) out += ShotHtml(s);
  out += "<section>\n<h2>How to read this</h2>\n" + ListHtml(page.how_to_read) + "</section>\n";
  out += "<section>\n<h2>With care</h2>\n" + ListHtml(page.cautions) + "</section>\n";
  if (!page.warnings.empty())
    out += "<section>\n<h2>What the measuring noted</h2>\n" + ListHtml(page.warnings) + "</section>\n";
  return out + "<footer class=\"quiet\"><p>" + Escaped(page.maker) + "</p></footer>\n</main>\n</body>\n</html>\n";
}

}  // namespace hookline::report
