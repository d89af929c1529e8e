package parts

import "fyne.io/fyne/v2/theme"

// Large is true where the text is so large that less of it fits beside each
// other.
func Large() bool { return theme.TextSize() > 24 }

// Wide is a label, or a shorter one where the text is large.
func Wide(label, short string) string {
	if Large() {
		return short
	}
	return label
}
