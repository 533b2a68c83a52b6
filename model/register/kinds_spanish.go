package register

import (
	"slices"
	"strings"
)

// spanish are the words of the trade from which the rules on kinds follow: whoever works in
// Spanish names tools so, and a "llave dinamométrica" is no less unchecked than a torque
// wrench. Without accents, which many leave out.
var spanish = map[string]string{
	"dinamometrica": "torque wrench", "dinamometrico": "torque", "torquimetro": "torque wrench", "dinamometro": "torque tester", "torque": "torque",
	"llave": "wrench", "destornillador": "screwdriver", "atornillador": "screwdriver", "impacto": "impact", "trinquete": "ratchet", "carraca": "ratchet", "matraca": "ratchet",
	"manometro": "pressure gauge", "calibrador": "caliper", "calibre": "caliper", "rey": "caliper", "micrometro": "micrometer", "comparador": "indicator", "galga": "gauge",
	"medidor": "gauge", "goniometro": "angle gauge", "multimetro": "multimeter", "polimetro": "multimeter", "voltimetro": "voltmeter", "amperimetro": "meter", "termometro": "thermometer",
	"bascula": "scale", "balanza": "scale", "probador": "tester", "bateria": "battery", "cargador": "charger", "voltaje": "voltage", "tension": "voltage",
	"elevador": "lift", "elevadora": "lift", "mesa": "table", "gato": "jack", "caballete": "jack stand", "borriqueta": "jack stand", "torre": "jack stand",
	"eslinga": "sling", "cadena": "chain", "polipasto": "hoist", "tecle": "hoist", "grua": "crane",
	"guante": "glove", "manga": "sleeve", "manta": "blanket", "aislante": "insulating", "aislado": "insulated", "aislada": "insulated", "dielectrico": "insulating", "dielectrica": "insulating",
	"extintor": "extinguisher", "lavaojos": "eyewash",
	"presion": "pressure", "compresor": "compressor", "resorte": "spring", "muelle": "spring", "inflador": "inflator", "refrigerante": "refrigerant",
	"hidraulico": "hydraulic", "hidraulica": "hydraulic", "engrasadora": "grease gun",
}

var withoutAccents = strings.NewReplacer("á", "a", "é", "e", "í", "i", "ó", "o", "ú", "u", "ü", "u")

// inEnglish is the name of a kind as spaced gives it, followed by what its Spanish words
// say. What qualifies a tool stands before it there, and behind it in Spanish.
func inEnglish(kind string) string {
	kind = spaced(kind)
	var words []string
	for _, word := range strings.Fields(withoutAccents.Replace(kind)) {
		for _, one := range []string{word, strings.TrimSuffix(word, "s"), strings.TrimSuffix(word, "es")} {
			if english, known := spanish[one]; known {
				words = append(words, english)
				break
			}
		}
	}
	if !slices.ContainsFunc(words, func(w string) bool { return w != "torque" }) { // which is English as well
		return kind
	}
	slices.Reverse(words)
	return kind + strings.Join(words, " ") + " "
}
