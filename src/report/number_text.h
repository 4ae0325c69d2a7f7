// How numbers look to people: the one place that rounds. Table, CSV and the drawn panel take their text from here, the
// result file its decimals, so that they cannot disagree.
#pragma once

#include <string>
#include <string_view>

#include "model/measures.h"

namespace hookline::report {

// A measure counts as given when both its value and its doubt are finite numbers; a number without a doubt is not
// handed out.
bool Given(const Measure& measure);
// Why a measure is not given: its own reason, or a sentence for a value without a doubt. Empty when it is given.
std::string ReasonOf(const Measure& measure);

// Decimals a measure is shown with: those of kMeasureTable, up to two more when its doubt would otherwise round to
// nothing.
int DecimalsShown(MeasureId id, double sd);

// "12.0" and "0.1"; a doubt is never shown as zero. Precondition: the measure is given.
std::string ValueText(MeasureId id, const Measure& measure);
std::string DoubtText(MeasureId id, const Measure& measure);

// "12.0 ±0.1", or "–" when it is not given.
std::string MeasureText(MeasureId id, const Measure& measure);

// The same of a number that is no measure of the table, with at least so many decimals.
std::string TextWithDoubt(double value, double sd, int least_decimals);

// A plain number with that many decimals; never "-0.0".
std::string FixedText(double value, int decimals);

// A probability: "93 %", "over 99 %", "under 1 %".
std::string ShareText(double share);

// A value as it is kept in files: rounded to a millionth, far below any doubt, so that files stay short and the same on
// every machine.
double FileNumber(double value);

// Columns that a UTF-8 text takes on a terminal (one a character; the texts here hold no wide characters), and the text
// padded to a width.
std::size_t TextWidth(std::string_view utf8);
std::string PadLeft(std::string_view utf8, std::size_t width);
std::string PadRight(std::string_view utf8, std::size_t width);

}  // namespace hookline::report
