// Where a search for a path begins: its priors, and first guesses of its parameters.
#pragma once

#include <Eigen/Core>

#include "motion/path_problem.h"
#include "motion/sight_selection.h"

namespace hookline::motion {

// Sets the priors of `problem` from its options, by the rough path and by problem.rolls, roll_mean and roll_sd.
void SetPriors(const SelectedSights& selected, PathProblem& problem);

// Time of the roll, s of the curve's time, of a ball that still slides at the pins.
double NoRoll(const SkidGrid& grid);

// Has `start` land there: when, and how hard a ball likely does.
void LandAt(const PathProblem& problem, const SelectedSights& selected, double laydown_ft, Eigen::VectorXd& start);

// In the middle of what balls do, through the rough path's start.
Eigen::VectorXd FirstGuess(const PathProblem& problem, const SelectedSights& selected, double roll_ft,
                           double laydown_ft);

// Gives `problem` friction that goes from one value to another (two_friction.h), its knots held at their places on a
// curve fitted before.
void HoldKnots(const Eigen::VectorXd& curve, PathProblem& problem);

// From parameters with free friction to those of a problem whose friction has a step: its means in front and down the
// lane, the place where it passes half way.
Eigen::VectorXd SteppedStart(const PathProblem& stepped, const Eigen::VectorXd& free);

}  // namespace hookline::motion
