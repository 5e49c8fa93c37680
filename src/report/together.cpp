#include "report/together.hpp"

#include "report/words.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

constexpr std::string_view thin_space = "\u2009";
constexpr std::string_view minus = "\u2212";

struct Figure {
    std::string text;
    double value = 0;
};
struct Sentence {
    std::vector<std::string> words;  // one more than figures: the text between them
    std::vector<Figure> figures;
};

bool is_digit(std::string_view text, std::size_t at)
{
    return at < text.size() && text[at] >= '0' && text[at] <= '9';
}

// End of the figure that starts at `at`, or `at` where none does.
std::size_t figure_end(std::string_view text, std::size_t at)
{
    std::size_t end = at;
    if (text.substr(end).starts_with(minus))
        end += minus.size();
    if (!is_digit(text, end))
        return at;
    while (end < text.size()) {
        if (is_digit(text, end))
            ++end;
        else if (text[end] == '.' && is_digit(text, end + 1))
            ++end;
        else if (text.substr(end).starts_with(thin_space) && is_digit(text, end + thin_space.size()))
            end += thin_space.size();
        else
            break;
    }
    const bool name_goes_on =
        end < text.size() && (std::isalnum(static_cast<unsigned char>(text[end])) != 0 || text[end] == '-' ||
                              text[end] == '_' || text[end] == '/');
    return name_goes_on ? at : end;
}

double value_of(std::string_view text)
{
    std::string plain;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text.substr(i).starts_with(minus))
            plain += '-';
        else if (is_digit(text, i) || text[i] == '.')
            plain += text[i];
    }
    double value = 0;
    std::from_chars(plain.data(), plain.data() + plain.size(), value);
    return value;
}

Sentence parsed(const std::string& text)
{
    Sentence sentence;
    std::string words;
    std::size_t at = 0;
    while (at < text.size()) {
        const bool starts_word = at == 0 || text[at - 1] == ' ' || text[at - 1] == '(';
        const std::size_t end = starts_word ? figure_end(text, at) : at;
        if (end == at) {
            words += text[at++];
            continue;
        }
        sentence.words.push_back(std::move(words));
        words.clear();
        const std::string figure = text.substr(at, end - at);
        sentence.figures.push_back({figure, value_of(figure)});
        at = end;
    }
    sentence.words.push_back(std::move(words));
    return sentence;
}

std::string joined_sentence(const std::vector<Sentence>& sentences)
{
    const auto& first = sentences.front();
    std::string text = first.words.front();
    for (std::size_t f = 0; f < first.figures.size(); ++f) {
        const auto value = [f](const Sentence& sentence) { return sentence.figures[f].value; };
        const auto [least, greatest] = std::ranges::minmax_element(sentences, {}, value);
        text += least->figures[f].text;
        if (least->figures[f].text != greatest->figures[f].text)
            text += " to " + greatest->figures[f].text;
        text += first.words[f + 1];
    }
    return text;
}

}  // namespace

std::string words_without_figures(const std::string& sentence)
{
    return fmt::format("{}", fmt::join(parsed(sentence).words, "#"));
}

std::vector<Told> told_together(const std::vector<std::string>& sentences)
{
    std::vector<Told> told;
    std::vector<std::vector<Sentence>> groups;
    for (std::size_t i = 0; i < sentences.size(); ++i) {
        auto sentence = parsed(sentences[i]);
        const auto same = std::ranges::find_if(
            groups, [&](const auto& group) { return group.front().words == sentence.words; });
        const auto place = static_cast<std::size_t>(same - groups.begin());
        if (same == groups.end()) {
            groups.emplace_back();
            told.emplace_back();
        }
        groups[place].push_back(std::move(sentence));
        told[place].members.push_back(i);
    }
    for (std::size_t g = 0; g < groups.size(); ++g)
        told[g].text = joined_sentence(groups[g]);
    return told;
}

std::string joined_subjects(const std::vector<std::string>& subjects)
{
    if (subjects.size() < 2)
        return joined(subjects);
    const std::string noun = subjects.front().substr(0, subjects.front().find(' ') + 1);
    const bool alike = !noun.empty() && std::ranges::all_of(subjects, [&](const std::string& subject) {
        return subject.starts_with(noun);
    });
    if (!alike)
        return joined(subjects);
    std::vector<std::string> names;
    for (const auto& subject : subjects)
        names.push_back(subject.substr(noun.size()));
    // Names that hold commas of their own are parted by semicolons.
    const bool commas = std::ranges::any_of(
        names, [](const std::string& name) { return name.find(',') != std::string::npos; });
    return fmt::format("{}s {}", noun.substr(0, noun.size() - 1),
                       commas ? fmt::format("{}", fmt::join(names, "; ")) : joined(names));
}

}  // namespace luxdossier::report
