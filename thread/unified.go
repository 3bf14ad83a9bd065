package thread

import "strings"

// UnifiedFamily is the Unified inch thread.
const UnifiedFamily Family = "UN"

func unifiedFamily() family {
	return family{
		info: FamilyInfo{
			Name: UnifiedFamily, What: "Unified inch threads, 60°", Standard: "ASME B1.1",
			Examples: []string{"1/2-13 UNC-2A", "#10-32 UNF-2B", ".500-13 UNC 2A", "1.125-16 UN-2A SPECIAL, LE .75", "1/2-13"},
		},
		claims: func(c *callout) bool { return strings.Contains(c.fold, "UN") },
		parse:  func(c *callout) (Thread, error) { return Thread{}, c.errorf("", "unified threads are not read yet") },
	}
}
