package yamlread

import (
	"sort"
	"strings"
)

// Suggest words what to write instead of a word that is not known: the nearest
// known one, or the list when none is near.
func Suggest(word string, known []string) string {
	if near := Nearest(word, known); near != "" {
		return near
	}
	list := append([]string(nil), known...)
	sort.Strings(list)
	const most = 12
	if len(list) == 0 {
		return "nothing: there is none to choose from"
	}
	if len(list) > most {
		return "one of " + strings.Join(list[:most], ", ") + ", …"
	}
	return "one of " + strings.Join(list, ", ")
}

// Nearest returns the known word with the fewest changed letters, if those are
// at most a third of the word (at least one, at most four, never all of them);
// ties go to the first in order. With more than one letter wrong, the shortest that it
// begins comes first.
func Nearest(word string, known []string) string {
	limit := min(max(1, len(word)/3), 4, len(word)-1)
	best, bestAt := "", limit+1
	for _, k := range known {
		d := distance(strings.ToLower(word), strings.ToLower(k), limit)
		if d < bestAt || d == bestAt && best != "" && k < best {
			best, bestAt = k, d
		}
	}
	if bestAt > 1 { // a word that was not finished is likelier than two wrong letters
		if l := longer(word, known); l != "" {
			return l
		}
	}
	return best
}

// longer returns the shortest known word that begins with the given one.
func longer(word string, known []string) string {
	best := ""
	for _, k := range known {
		if len(word) >= 3 && strings.HasPrefix(k, word) && (best == "" || len(k) < len(best) || len(k) == len(best) && k < best) {
			best = k
		}
	}
	return best
}

// distance is the optimal string alignment distance (insert, delete, change,
// swap neighbours), cut off above limit. Words here are short ASCII ids, so
// bytes do.
func distance(a, b string, limit int) int {
	if d := len(a) - len(b); d > limit || -d > limit || len(a) > 100 {
		return limit + 1
	}
	before, last, now := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		now[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
		before, last, now = last, now, before
	}
	return last[len(b)]
}
