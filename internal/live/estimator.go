package live

import (
	"crypto/sha256"
	"encoding/hex"

	"volar/models"
)

// Estimator names what reads the angles in this program: the model by its file
// and the beginning of its SHA-256. A hand that was recorded with another says
// nothing of the errors of this one; see goniometry.Options.
func Estimator() (string, error) {
	b, err := models.HandAngles()
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	return models.HandAnglesFile + " " + hex.EncodeToString(sum[:6]), nil
}
