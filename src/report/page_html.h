// The page as one HTML file for phone, laptop and paper: style and pictures inside it, no script. Its content security
// policy forbids every request, so nothing in it can reach out even if a name in it was meant to.
#pragma once

#include <string>

#include "report/page.h"

namespace hookline::report {

std::string PageHtml(const Page& page);

// Standard base64 (RFC 4648, section 4), padded.
std::string Base64(const std::string& bytes);

}  // namespace hookline::report
