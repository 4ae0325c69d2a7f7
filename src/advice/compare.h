// Two balls on one plan, or two plans with one ball, side by side.
//
// Pocket: entry board within one board of 17.5. A share's doubt is the beta posterior with Jeffreys' prior, B(hits +
// 1/2, misses + 1/2); the sentence gives the probability that one share is higher than the other. Means carry their
// standard error. Strikes are counted where the pins after the shot were
// read or its result was written (outlook.h). Shots with a let-up, more turn or a miss count: they are part of what a
// choice gives. Each comparison ends in a sentence on the pocket and one on strikes given the pocket.
#pragma once

#include <vector>

#include "advice/causes.h"
#include "model/advice.h"

namespace hookline::advice {

// Median and 90 % interval of B(hits + 1/2, count - hits + 1/2). Precondition: 0 <= hits <= count.
Rate RateOf(int hits, int count);
// Probability that the first share is higher.
double ChanceHigher(const Rate& first, const Rate& second);

// What a choice's shots come to.
// `results`: what fell in each, in the user's words; empty, or one a shot.
ChoiceSummary SummaryOf(const std::string& name, const std::vector<const Shot*>& shots,
                        const std::vector<std::string>& results = {});

// Choices with at least three shots each that entered.
std::vector<Comparison> CompareChoices(const std::vector<ShotVerdict>& verdicts);

}  // namespace hookline::advice
