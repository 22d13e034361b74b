package intake

// synonyms are the headings that people use for columns of the datasheet, in
// English and Spanish, compared by plain. A target ending in ? is a usual but
// not the only meaning of its words.
//
// Canonical and Darwin Core names come from package sheet and need no entry.
var synonyms = map[string]string{
	"deployment_id": `deployment, deployment id, deployment code, deployment number, id, row, row id, row number, row code, line id, code, transect, transect id, event id, field number,
		despliegue, id despliegue, codigo, codigo despliegue, fila, id fila, fila de estacas, numero de fila, hilera, transecto, numero`,
	"site":      `site name, location, locality, place, station, site id, sitio, lugar, localidad, estacion, nombre del sitio, playa, punto`,
	"habitat":   `habitat type, habitat name, substrate, bottom, bottom type, seabed, ground, habitats, tipo de habitat, sustrato, fondo, tipo de fondo, ambiente`,
	"latitude":  `lat, latitude n, lat n, gps lat, latitude dd, lat dd, y coordinate, latitud, latitud n, latitud s, lat s, lat deg, lat wgs 84`,
	"longitude": `lon, long, lng, longitude e, longitude w, lon e, lon w, long w, long e, gps lon, gps long, longitude dd, lon dd, long dd, longitud, longitud o, longitud w, long deg, lon deg, lon wgs 84`,
	"position":  `coordinates, gps, coords, gps position, lat long, lat lon, latlong, latitude longitude, posicion, coordenadas, posicion gps, ubicacion`,
	"deployed_at": `deployed, set, set out, set at, set out at, deployment time and date, deployment datetime, datetime out, date time, date and time, start, start datetime, date time out,
		date and time out, colocado, colocacion, fecha y hora, inicio, fecha hora inicio, fecha y hora de inicio, despliegue fecha hora, fecha hora, instalado`,
	"deployed_at:date": `date, day, date out, date set, date deployed, deployment date, start date, set date, fecha, fecha de colocacion, fecha inicio, dia, fecha de instalacion, fecha despliegue, date of deployment`,
	"deployed_at:time": `event time, time, time out, time set, time in, time deployed, deployment time, start time, set time, time in water, hora, hora de inicio, hora inicio, hora colocacion,
		hora de colocacion, hora de instalacion, hora despliegue, out`,
	"deployed_until": `deployed until, setting end, set until, last bait in, end of setting, fin de colocacion, colocacion hasta`,
	"baits_deployed": `baits, number baits, no baits, num baits, nr baits, no stakes, num stakes, no cebos, num cebos, no carnadas, no estacas, numero cebos, numero estacas, numero carnadas, baits number, number of baits, n baits, baits out, baits set, stakes, number of stakes, n stakes, stakes out, stakes set, n, total baits, total, baits at start, initial baits, deployed baits, number deployed,
		cebos, numero de cebos, n cebos, cebos colocados, carnadas, numero de carnadas, estacas, numero de estacas, n estacas, total de cebos, cebos iniciales, carnadas colocadas`,
	"programme":                `program, project, programa, proyecto`,
	"season":                   `campaign, temporada, campana, year, ano`,
	"team":                     `group, institution, crew, equipo, grupo, institucion`,
	"protocol":                 `protocolo, method version`,
	"observers":                `observer, people, names, recorder, recorded by, who, surveyor, field crew, initials, observador, observadores, personas, responsable, anotador, iniciales, nombres, technician, tecnico`,
	"stakes_retrieved":         `retrieved, stakes back, stakes recovered, stakes in, recovered, recuperadas, estacas recuperadas, estacas retiradas`,
	"retrieved_at":             `retrieved at, time retrieved, retrieval, retrieval time, retirada, retirado, hora de retirada, recogida`,
	"abandoned_at":             `abandoned, abandonado`,
	"depth_min_m":              `depth, depth m, min depth, depth min, minimum depth, shallow end, water depth, profundidad, prof, profundidad m, prof m, profundidad minima, prof min, profundidad min`,
	"depth_max_m":              `max depth, depth max, maximum depth, deep end, profundidad maxima, prof max, profundidad max`,
	"depth_at":                 `depth time, depth taken at, hora de profundidad`,
	"bait_kind":                `bait, bait type, bait species, cebo, tipo de cebo, carnada, tipo de carnada`,
	"bait_form":                `bait shape, form, shape, forma, forma del cebo`,
	"bait_size_mm":             `bait size, bait diameter, size, tamano del cebo, diametro, tamano`,
	"bait_batch":               `batch, bait lot, lot, lote, lote de cebo, tanda`,
	"spacing_m":                `spacing, stake spacing, distance between stakes, separacion, distancia entre estacas`,
	"row_bearing_deg":          `bearing, heading, row bearing, rumbo, orientacion, direccion`,
	"control":                  `control row, cage, caged, treatment, jaula, tratamiento, testigo`,
	"practice":                 `practise, training, trial, practica, ensayo, prueba, entrenamiento`,
	"near_other_habitat":       `near other habitat, other habitat near, cerca de otro habitat, otro habitat cerca`,
	"temperature_c":            `temp, temperature, water temp, water temperature, sst, temp c, water temp c, temperatura, temp agua, temperatura del agua, t agua`,
	"salinity":                 `sal, psu, salinidad`,
	"visibility_m":             `vis, visibility, vis m, visibilidad`,
	"coordinate_uncertainty_m": `gps error, gps accuracy, accuracy, uncertainty, precision gps, error gps`,
	"notes":                    `note, comments, comment, remarks, observations, obs, notas, observaciones, comentarios, nota`,

	// Tables with one line per check, stake or sighting.
	"check":              `check number, check no, visit, visit number, reading, revision, visita, numero de revision, lectura, chequeo, n revision, time point`,
	"checked_at":         `checked at, check time, time checked, time of check, visit time, fecha y hora de revision, revisado, hora de revision, date time of check`,
	"checked_at:date":    `check date, date checked, visit date, date of check, fecha de revision, fecha revision, fecha de visita`,
	"stake":              `stake number, stake no, stake id, bait number, peg, peg number, pole, position in row, estaca, numero de estaca, n estaca, cebo numero, palo`,
	"fate":               `state, status, outcome, result, code at check, estado, resultado, destino, condicion`,
	"how":                `how gone, why gone, cause, kind of loss, como, causa, modo`,
	"taxon":              `species, scientific name, animal, fish, especie, taxon, nombre cientifico, animal visto, pez`,
	"count":              `number seen, individuals, abundance, n seen, how many, max n, individuos, cuantos, abundancia, numero visto`,
	"method":             `seen by, how seen, metodo, forma de observacion`,
	"effort":             `duration, minutes watched, esfuerzo, duracion, minutos`,
	"effort_unit":        `unit of effort, unidad de esfuerzo, unidad`,
	"took_bait":          `took bait, ate bait, bit, bite, comio cebo, tomo el cebo, mordio, tomo cebo`,
	"absence_looked_for": `absence looked for, absences, ausencia buscada`,
	"from":               `desde, first seen, begin, de`,
	"to":                 `until, hasta, last seen`,
}

// checkWords are what headings say of one check, once the check is taken out
// and words without meaning are dropped.
var checkWords = map[string]string{
	"consumed_by_check{K}": `consumed, eaten, taken, removed, attacked, consumption, bitten, eaten so far, consumed so far, gone eaten, comidos, consumidos, comidas, consumidas, comido, consumido,
		atacados, atacadas, consumo, removidos, removidas, depredados`,
	"consumed_by_check{K}?":     `gone, missing, disappeared, faltan, faltantes, ausentes, desaparecidos, desaparecidas, falta`,
	"consumed_by_check{K}:left": `left, remaining, present, still there, intact, alive, remain, survivors, still present, quedan, restantes, presentes, intactos, intactas, quedaron, sobreviven, permanecen, there, restan`,
	"lost_by_check{K}":          `lost, stakes lost, lost stakes, stake lost, stakes gone, stakes missing, missing stakes, not found, unknown, perdidos, perdidas, estacas perdidas, no encontrados, no encontradas, estacas faltantes, perdida, extraviadas`,
	"unread_at_check{K}":        `unread, not read, unreadable, no leidos, no leidas, sin leer, sin lectura`,
	"check{K}_at":               `checked, date time, datetime, date and time, fecha hora, fecha y hora, checked at, made`,
	"check{K}_at:time":          `time, check time, time checked, clock, hora, hora revision, hora visita, read, time read`,
	"check{K}_at:date":          `date, day, date checked, fecha, dia, fecha revision, fecha visita`,
	"check{K}_at:after":         `elapsed, soak, hours elapsed, time elapsed, soak time, soak h, elapsed h, transcurrido, tiempo transcurrido, horas transcurridas, inmersion, hours`,
	"check{K}_until":            `until, end, finished, hasta, fin, final`,
	"reader_of_check{K}":        `reader, who, observer, read by, lector, observador, quien, leido`,
	"why_no_check{K}":           `why no, why not, reason, why missed, porque no, motivo, razon`,
}
