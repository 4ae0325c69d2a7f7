// The page (page.h) on paper: A4, the same words, tables, figures and pictures as the HTML. Cairo and Pango live behind
// this door only.
#pragma once

#include <string>

#include "core/status.h"
#include "report/page.h"

namespace hookline::report {

// A PDF file's content. A row, a figure, a paragraph of advice is never cut by the end of a sheet. kInternal when Cairo
// fails.
Result<std::string> PagePdf(const Page& page);

}  // namespace hookline::report
