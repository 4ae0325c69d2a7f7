// A figure of the page as SVG for the page's own style sheet (page_html.h): inks are classes, so that light, dark and
// print have their own colours.
#pragma once

#include <string>

#include "report/page_figure.h"

namespace hookline::report {

// An <svg> element, as wide as its place lets it be, with a title for who cannot see it. All text is escaped.
std::string FigureSvg(const PageFigure& figure);

// Text for HTML and SVG, in an element and in a quoted attribute alike. Bytes that are no UTF-8 become U+FFFD.
std::string Escaped(const std::string& text);

}  // namespace hookline::report
