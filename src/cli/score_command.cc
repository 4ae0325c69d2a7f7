// hookline score : what is still to come in a game, exactly.

#include <algorithm>
#include <cmath>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>

#include "advice/scoring.h"
#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/terminal.h"
#include "report/number_text.h"

namespace hookline::cli {
namespace {

using report::FixedText;
using Json = nlohmann::ordered_json;

constexpr const char* kHelp =
    "BALL is the pins of each ball so far, in order; 10 with a frame's first ball is a strike. --choice "
    "NAME:STRIKE:SPARE\n"
    "says how often a way to bowl strikes and how often it spares what is left, as shares or percent; a fourth and "
    "fifth\n"
    "number are the pins of a first ball that is no strike (8.5) and of a missed second one (0.5). With --need the "
    "chance\n"
    "to reach that score is worked out, and which choice serves it best in the next frame when one may choose anew in\n"
    "each. Balls are taken as independent; shares from few frames are as unsure as those frames are few.\n"
    "\n"
    "Examples:\n"
    "  hookline score 10 9 1 7 2 --choice line:0.45:0.8\n"
    "  hookline score 9 1 10 10 --choice narrow:0.35:0.9 --choice wide:0.5:0.7 --need 200\n"
    "\n";

struct ScoreArguments {
  std::vector<int> balls;
  std::vector<std::string> choices;
  int need = 0;
  std::string json;
};

struct NamedModel {
  std::string name;
  advice::BallModel model;
};

Result<NamedModel> ModelOf(const std::string& text) {
  const auto bad = [&](const std::string& why) {
    return Status(StatusCode::kBadUse,
                  "--choice " + text + ": " + why + "; write NAME:STRIKE:SPARE, as line:0.45:0.8.");
  };
  std::vector<std::string> parts = {""};
  for (const char c : text) {
    if (c == ':')
      parts.emplace_back();
    else
      parts.back() += c;
  }
  if (parts.size() < 3 || parts.size() > 5) return bad("it has not three to five parts");
  std::vector<double> numbers;
  for (std::size_t i = 1; i < parts.size(); ++i) {
    std::size_t used = 0;
    double v = 0;
    try {
      v = std::stod(parts[i], &used);
    } catch (const std::exception&) {
      used = 0;
    }
    if (used == 0 || used != parts[i].size() || !std::isfinite(v)) return bad("\"" + parts[i] + "\" is no number");
    numbers.push_back(i <= 2 && v > 1 ? v / 100 : v);
  }
  const double first = numbers.size() > 2 ? numbers[2] : 8.5, second = numbers.size() > 3 ? numbers[3] : 0.5;
  if (!(numbers[0] >= 0 && numbers[0] <= 1 && numbers[1] >= 0 && numbers[1] <= 1)) return bad("a share is 0 to 1");
  if (!(first >= 0 && first <= 9 && second >= 0 && second <= 9)) return bad("pins left standing are 0 to 9");
  return NamedModel{parts[0].empty() ? "unnamed" : parts[0],
                    advice::BallModel::FromRates(numbers[0], numbers[1], first, second)};
}

int RunScore(const ScoreArguments& a) {
  const auto game = advice::PlayGame(a.balls);
  if (!game.ok()) return Report(game.status());
  const auto frames = advice::FrameScores(a.balls);
  if (!frames.ok()) return Report(frames.status());
  std::vector<NamedModel> named;
  for (const std::string& text : a.choices) {
    auto model = ModelOf(text);
    if (!model.ok()) return Report(model.status());
    named.push_back(std::move(*model));
  }
  std::vector<advice::BallModel> models;
  for (const NamedModel& m : named) models.push_back(m.model);
  std::string out;
  for (std::size_t i = 0; i < frames->size(); ++i)
    out += "frame " + report::PadLeft(std::to_string(i + 1), 2) +
           report::PadLeft((*frames)[i] ? std::to_string(*(*frames)[i]) : "open", 6) + "\n";
  Json j = {{"format", "hookline-score"}, {"version", 1}, {"score_now", game->score}, {"over", game->over()}};
  j["choices"] = Json::array();
  std::optional<advice::BestChoice> best;
  if (a.need > 0 && !models.empty()) best = advice::ChooseFor(*game, models, a.need);
  for (std::size_t i = 0; i < models.size(); ++i) {
    const double expected = advice::ExpectedScore(*game, models[i]);
    out += named[i].name + ": expected score " + FixedText(expected, 1);
    Json choice = {{"name", named[i].name}, {"expected_score", report::FileNumber(expected)}};
    if (best) {
      out += ", reaches " + std::to_string(a.need) + " in " + FixedText(100 * best->always[i], 1) + " %";
      choice["chance"] = report::FileNumber(best->always[i]);
    }
    out += ".\n";
    j["choices"].push_back(std::move(choice));
  }
  if (best) {
    j["need"] = a.need;
    j["next_choice"] = named[best->choice].name;
    j["chance_choosing"] = report::FileNumber(best->chance);
    if (models.size() > 1)
      out += "For the next frame " + named[best->choice].name + " serves " + std::to_string(a.need) +
             " best; choosing well from here on it is reached in " + FixedText(100 * best->chance, 1) + " %.\n";
  }
  if (models.empty() && !game->over()) out += "Say how you bowl with --choice to see what is to come.\n";
  if (Status s = WriteOutput("-", a.json == "-" ? j.dump(1) + "\n" : out); !s.ok()) return Report(s);
  return 0;
}

}  // namespace

std::function<int()> InstallScore(CLI::App& app) {
  const auto a = std::make_shared<ScoreArguments>();
  app.add_option("BALL", a->balls, "Pins of each ball so far");
  app.add_option("--choice", a->choices, "NAME:STRIKE:SPARE, a way to bowl; may be given several times");
  app.add_option("--need", a->need, "The score that is needed")->check(CLI::Range(1, advice::kPerfectGame));
  app.add_option("--json", a->json, "- writes the numbers to standard output in place of the text")
      ->check(CLI::IsMember({"-"}));
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunScore(*a); };
}

}  // namespace hookline::cli
