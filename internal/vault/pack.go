package vault

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"sync"

	"github.com/klauspost/compress/zstd"
)

// errBatch is a batch that does not come back as it was written.
var errBatch = errors.New("a recorded second does not come back as it was written")

// maxBatch is the longest batch that is taken back, in bytes.
const maxBatch = 8 << 20

// packer compresses batches and checks them as they come back.
type packer struct {
	once sync.Once
	enc  *zstd.Encoder
	dec  *zstd.Decoder
	err  error
}

func (p *packer) ready() error {
	p.once.Do(func() {
		if p.enc, p.err = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderCRC(false)); p.err != nil {
			return
		}
		p.dec, p.err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(maxBatch))
	})
	return p.err
}

// seal returns the compressed batch and the digest of what was compressed.
func (p *packer) seal(data []byte) (digest, body []byte, err error) {
	if err := p.ready(); err != nil {
		return nil, nil, err
	}
	sum := sha256.Sum256(data)
	return sum[:], p.enc.EncodeAll(data, nil), nil
}

// open is the inverse of seal; it returns errBatch where they do not agree.
func (p *packer) open(digest, body []byte) ([]byte, error) {
	if err := p.ready(); err != nil {
		return nil, err
	}
	data, err := p.dec.DecodeAll(body, nil)
	if err != nil {
		return nil, fmt.Errorf("%w: %v", errBatch, err)
	}
	if sum := sha256.Sum256(data); !bytes.Equal(sum[:], digest) {
		return nil, errBatch
	}
	return data, nil
}

func (p *packer) close() {
	if p.dec != nil {
		p.dec.Close()
	}
}
