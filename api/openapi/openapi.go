// Package openapi holds the description of the REST service: OpenAPI 3.1, kept
// by hand in one file per noun, with what they share in openapi.yaml. A part is
// one file; joined they are the document. A path, or a component of a section,
// stands in exactly one part.
package openapi

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"

	"gopkg.in/yaml.v3"
)

//go:embed *.yaml
var parts embed.FS

// root is the part that says what the whole document is.
const root = "openapi.yaml"

// Document is the joined description, as plain maps and lists.
type Document map[string]any

// Read gives the description of the service at that version of the program. A
// part that cannot be joined is a broken build.
func Read(version string) Document {
	d, err := Join(parts)
	if err != nil {
		panic("openapi: " + err.Error())
	}
	if info, ok := d["info"].(map[string]any); ok && version != "" {
		info["version"] = version
	}
	d.throttle()
	return d
}

// throttle documents at each operation that may answer 401 that it may as well
// answer 429: whatever tells who asks, it is told too often wrongly.
func (d Document) throttle() {
	for _, item := range asMap(d["paths"]) {
		for _, operation := range asMap(item) {
			responses := asMap(asMap(operation)["responses"])
			if responses["401"] != nil {
				responses["429"] = map[string]any{"$ref": "#/components/responses/Throttled"}
			}
		}
	}
}

// JSON writes the document.
func (d Document) JSON() []byte {
	b, err := json.Marshal(map[string]any(d))
	if err != nil {
		panic("openapi: " + err.Error()) // YAML with keys that are no text
	}
	return b
}

// Join reads every *.yaml of a folder. openapi.yaml may hold anything, the others
// paths and components only.
func Join(folder fs.FS) (Document, error) {
	names, err := fs.Glob(folder, "*.yaml")
	if err != nil {
		return nil, err
	}
	d, err := part(folder, root)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if path.Base(name) == root {
			continue
		}
		p, err := part(folder, name)
		if err != nil {
			return nil, err
		}
		if err := d.add(p); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	return d, nil
}

// part reads one file; a key that stands twice is refused by the decoder.
func part(folder fs.FS, name string) (Document, error) {
	text, err := fs.ReadFile(folder, name)
	if err != nil {
		return nil, err
	}
	var d map[string]any
	if err := yaml.Unmarshal(text, &d); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return d, nil
}

// add joins a part to the document.
func (d Document) add(p Document) error {
	for _, section := range slices.Sorted(maps.Keys(p)) {
		switch section {
		case "paths":
			if err := merge(d, section, p[section]); err != nil {
				return err
			}
		case "components":
			mine, err := under(d, section)
			if err != nil {
				return err
			}
			for name, entries := range asMap(p[section]) {
				if err := merge(mine, name, entries); err != nil {
					return err
				}
			}
		default:
			return fmt.Errorf("%q belongs into %s", section, root)
		}
	}
	return nil
}

// merge adds entries to a section and refuses one that is there.
func merge(into map[string]any, section string, entries any) error {
	mine, err := under(into, section)
	if err != nil {
		return err
	}
	theirs, ok := entries.(map[string]any)
	if !ok {
		return fmt.Errorf("%q is not a mapping", section)
	}
	for name, entry := range theirs {
		if _, twice := mine[name]; twice {
			return fmt.Errorf("%q stands in two parts, under %q", name, section)
		}
		mine[name] = entry
	}
	return nil
}

// under gives the mapping of that name, made when missing.
func under(d map[string]any, name string) (map[string]any, error) {
	if d[name] == nil {
		d[name] = map[string]any{}
	}
	m, ok := d[name].(map[string]any)
	if !ok {
		return nil, fmt.Errorf("%q is not a mapping", name)
	}
	return m, nil
}

func asMap(v any) map[string]any {
	m, _ := v.(map[string]any)
	return m
}
