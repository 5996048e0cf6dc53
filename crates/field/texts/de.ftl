# Was ein Mensch am Brunnen liest. Kurze Sätze, einfache Wörter. Jede Meldung heißt in jeder Sprache gleich.
# `.do` sagt, was als Nächstes zu tun ist.

## Schritte

step-well = An welchem Brunnen bist du?
    .do = Scanne das Schild am Brunnen oder wähle den Brunnen aus der Liste.
step-strip-control = Nimm einen neuen Streifen für den Test mit dem Kontroll-Fläschchen.
    .do = Scanne den Code auf dem Streifen oder wähle ihn aus der Liste.
step-strip-sample = Nimm einen neuen Streifen für das Wasser.
    .do = Scanne den Code auf dem Streifen. Nimm dieselbe Schachtel wie vorher.
step-strip-second = Nimm noch einen neuen Streifen für dasselbe Wasser.
    .do = Scanne den Code auf dem Streifen. Nimm dieselbe Schachtel wie vorher.
step-temperature-control = Wie warm ist das Kontroll-Fläschchen?
    .do = Halte den Fühler hinein. Warte, bis die Zahl stillsteht. Tippe sie ein.
step-temperature-water = Wie warm ist das Wasser?
    .do = Halte den Fühler in den Becher. Warte, bis die Zahl stillsteht. Tippe sie ein.
step-rinse = Spüle den Streifen ab.
    .do = Drücke den Knopf, wenn du mit dem Spülen anfängst.
step-apply-control = Gib einen Tropfen aus dem Kontroll-Fläschchen auf den Streifen.
    .do = Der Tropfen muss alle dunklen Punkte bedecken. Drücke dann den Knopf.
step-apply-water = Gib einen Tropfen vom Wasser auf den Streifen.
    .do = Der Tropfen muss alle dunklen Punkte bedecken. Drücke dann den Knopf.
step-start = Warte. Bewege den Streifen nicht.
    .do = Starte die Messung, wenn die Uhr abgelaufen ist. Drücke dann den Knopf.
step-file = Die Messung läuft. Bewege den Streifen nicht.
    .do = Wähle hier die Datei, wenn die Messung fertig ist.

## Was eine Messung zeigte

seen-alive = Der Test-Streifen ist in Ordnung.
    .do = Miss jetzt das Wasser.
seen-not-covered = Der Tropfen hat den Streifen nicht ganz bedeckt.
    .do = Nimm einen neuen Streifen. Mach den Tropfen groß genug. Es darf keine Luft darin sein.
seen-unusable = Diese Messung ist nicht gut genug.
    .do = Prüfe den Stecker. Halte den Streifen still. Versuch es mit einem neuen Streifen.
seen-second-strip = Ein Streifen reicht für dieses Wasser nicht.
    .do = Bitte miss es noch einmal mit einem neuen Streifen.

## Abgelehnte Schritte

refusal-not-now = Dieser Schritt ist jetzt nicht dran.
    .do = Mach den Schritt, der auf dem Bildschirm steht.
refusal-run-is-over = Dieser Test ist vorbei.
    .do = Fang einen neuen Test an.
refusal-campaign-not-approved = Diese Brunnen-Liste ist noch nicht freigegeben.
    .do = Miss nicht. Ruf das Labor an.
refusal-campaign-withdrawn = Diese Brunnen-Liste darf nicht mehr benutzt werden.
    .do = Miss nicht. Ruf das Labor an.
refusal-campaign-over = Diese Brunnen-Liste galt bis { $day }.
    .do = Miss nicht. Ruf das Labor an.
refusal-calibration-not-in-force = Das Labor hat die Schachtel { $lot } nicht freigegeben.
    .do = Nimm einen Streifen aus einer anderen Schachtel oder ruf das Labor an.
refusal-well-unknown = Der Code „{ $code }“ steht nicht auf der Brunnen-Liste.
    .do = Prüfe, ob es der richtige Brunnen ist. Scanne sein Schild noch einmal.
refusal-lot-unknown = Die Schachtel „{ $code }“ steht nicht auf der Liste.
    .do = Nimm einen Streifen aus einer Schachtel, die auf der Liste steht.
refusal-strip-unknown = Der Streifen { $strip } steht nicht auf der Liste.
    .do = Prüfe die Nummer auf dem Streifen. Nimm einen Streifen von der Liste.
refusal-strip-used = Der Streifen { $strip } wurde schon benutzt.
    .do = Wirf ihn weg. Nimm einen neuen Streifen.
refusal-strip-expired = Der Streifen { $strip } war bis { $day } gut. Er ist zu alt.
    .do = Wirf ihn weg. Nimm einen Streifen aus einer neueren Schachtel.
refusal-strip-recalled = Das Labor hat den Streifen { $strip } zurückgerufen.
    .do = Benutze ihn nicht. Nimm einen neuen Streifen.
refusal-strip-of-other-lot = Der Streifen { $strip } ist aus einer anderen Schachtel als dein Test-Streifen.
    .do = Nimm einen Streifen aus der Schachtel { $lot }.
refusal-temperature-not-a-number = Das kann nicht die richtige Zahl sein.
    .do = Lies den Fühler noch einmal ab und tippe die Zahl ein.
refusal-too-warm = { $found } °C ist zu warm. Höchstens { $limit } °C sind gut.
    .do = Stell es in den Schatten, bis es kühl ist. Lies dann den Fühler noch einmal ab.
refusal-too-cold = { $found } °C ist zu kalt. Mindestens { $limit } °C sind gut.
    .do = Wärme es in den Händen. Lies dann den Fühler noch einmal ab.
refusal-too-early = Das ist zu früh. Warte noch { $seconds } Sekunden.
    .do = Warte auf die Uhr. Drücke dann noch einmal den Knopf.
refusal-too-late = Das ist zu spät. Es hat { $seconds } Sekunden gedauert. Höchstens { $limit } sind gut.
    .do = Nimm einen neuen Streifen und mach dort weiter.
refusal-control-too-old = Der Test mit dem Kontroll-Fläschchen ist zu lange her.
    .do = Mach den Test mit dem Kontroll-Fläschchen noch einmal. Nimm einen neuen Streifen.
refusal-second-too-late = Der erste Streifen ist zu lange her.
    .do = Fang einen neuen Test an.
refusal-run-too-long = Dieser Test hat zu lange gedauert.
    .do = Fang einen neuen Test an.
refusal-device-restarted = Das Handy war zwischendurch aus. Die Uhr ist verloren.
    .do = Nimm einen neuen Streifen und mach dort weiter.
refusal-device-clock = Die Uhr im Handy geht falsch.
    .do = Schalte das Handy aus und wieder ein. Nimm dann einen neuen Streifen.
refusal-handed-in-too-late = Dieser Schritt kam zu spät an.
    .do = Fang einen neuen Test an.
refusal-file-unreadable = Diese Datei kann man nicht lesen: { $why }
    .do = Wähle die Datei von dieser Messung.
refusal-file-used-before = Diese Datei wurde schon benutzt.
    .do = Wähle die Datei von dieser Messung. Achte auf ihr Datum.
refusal-file-of-other-scans = Messungen in dieser Datei: { $found }. Es müssen { $expected } sein.
    .do = Wähle die Datei von dieser Messung.

## Etiketten

label-none = Auf diesem Bild ist kein Code von uns.
    .do = Scanne den Code am Brunnen oder auf der Schachtel. Oder wähle aus der Liste.
label-other-study = Der Code { $code } gehört zu einer anderen Liste. Er sieht vielleicht gleich aus.
    .do = Richte dich nicht danach. Ist es der richtige Brunnen? Ist es die richtige Schachtel? Wenn du nicht sicher bist, ruf das Labor an.
label-outdated = Der Code { $code } ist alt. Er steht jetzt für etwas anderes.
    .do = Richte dich nicht danach. Ruf das Labor an.
label-well-now = { $code } ist ein Streifen oder eine Schachtel. Jetzt ist der Brunnen dran.
    .do = Scanne das Schild am Brunnen.
label-strip-now = { $code } ist ein Brunnen. Jetzt ist ein Streifen dran.
    .do = Scanne den Code auf dem Streifen oder auf seiner Schachtel.

## Das Ende

reading-number = { $value } ± { $plus } { $unit }
reading-less-than = weniger als { $value } { $unit }
reading-more-than = mehr als { $value } { $unit }
reading-not-detected = nicht gefunden: weniger als { $value } { $unit }
basis-nitrate = Das zählt das ganze Nitrat (NO₃⁻). Es zählt nicht nur den Stickstoff (N) darin.
basis-nitrogen = Das zählt nur den Stickstoff (N) im Nitrat. Es zählt nicht das ganze Nitrat (NO₃⁻).
basis-other = Achte auf die Einheit. Verwechsle sie nicht mit anderen.
verdict-below = Unter dem Grenzwert von { $limit } { $unit }.
    .do = Schreib die Zahl und den Brunnen auf.
verdict-above = ÜBER dem Grenzwert von { $limit } { $unit }.
    .do = Nimm dieses Wasser nicht für Babys. Koch es nicht ab: davon wird es schlimmer. Ruf unten an.
verdict-too-close = Zu nah am Grenzwert von { $limit } { $unit }. Man kann es nicht sagen.
    .do = Nimm dieses Wasser nicht für Babys. Ruf unten an. Ein Labor muss es prüfen.
caution = Wir haben nur nach einer Sache gesucht. Andere Dinge im Wasser wurden nicht geprüft.
result-id = Nummer von diesem Ergebnis: { $id }
calibration-until = Das Labor hat diese Streifen bis { $day } freigegeben.
call = Fragen? Ruf an bei { $name }: { $number }

unknown = KEIN ERGEBNIS. Dieses Wasser gilt als unbekannt. Nimm es nicht für Babys.
why-control-not-alive = Der Test-Streifen hat nicht gezeigt, was im Kontroll-Fläschchen ist.
    .do = Benutze keine Streifen mehr aus dieser Schachtel. Ruf das Labor an.
why-strips-used-up = Kein Streifen gab eine gute Messung.
    .do = Prüfe Stecker und Streifen. Fang einen neuen Test an oder ruf das Labor an.
why-disagree = Die zwei Streifen sagen nicht dasselbe.
    .do = Nimm neues Wasser aus dem Brunnen und fang einen neuen Test an. Kommt es wieder, ruf das Labor an.
why-no-verdict = Die Prüfungen erlauben keine Zahl.
    .do = Fang einen neuen Test mit neuen Streifen an. Kommt es wieder, ruf das Labor an.
why-second-too-late = Der zweite Streifen kam zu spät.
    .do = Nimm neues Wasser aus dem Brunnen und fang einen neuen Test an.
why-run-too-long = Der Test hat zu lange gedauert.
    .do = Nimm neues Wasser aus dem Brunnen und fang einen neuen Test an.
why-too-many-refused = Zu viele Schritte gingen schief.
    .do = Mach eine kurze Pause. Fang dann einen neuen Test an oder ruf das Labor an.
why-abandoned = Der Test wurde abgebrochen.
    .do = Fang einen neuen Test an, wenn du kannst.
why-overdue = Der Test wurde nicht fertig gemacht.
    .do = Fang einen neuen Test an, wenn du kannst.
why-no-longer = Dieses Ergebnis galt früher. Das Labor hat es zurückgenommen.
    .do = Fang einen neuen Test an oder ruf das Labor an.

## Abbrechen

abandon = Warum hörst du auf?
abandon-wrong-well = Ich bin am falschen Brunnen.
abandon-spilt = Etwas ist verschüttet oder heruntergefallen.
abandon-broken = Streifen, Stecker oder Messgerät geht nicht.
abandon-had-to-leave = Ich muss gehen.
abandon-other = Etwas anderes.
note-clock-set = Die Uhr im Handy wurde verstellt. Wir nehmen die Uhr vom Computer.
note-other-run = Jemand anderes misst gerade an diesem Brunnen. Jeder Test zählt für sich.

## Die Seiten

page-title = Wasser-Test
page-skip = Zum Schritt
page-pair = Dieses Handy koppeln
    .do = Tippe den Code ein, den der Computer zeigt.
page-pair-code = Der Code
page-pair-go = Koppeln
page-pair-wrong = Dieser Code stimmt nicht.
    .do = Sieh auf den Computer und tippe den Code noch einmal ein.
page-pair-wait = Zu viele falsche Codes.
    .do = Warte eine Minute. Versuch es dann noch einmal.
page-pair-closed = Dieser Code gilt nicht mehr.
    .do = Frag am Computer nach einem neuen Code.
page-not-paired = Dieses Handy ist nicht gekoppelt.
    .do = Kopple es zuerst. Alle Schritte darauf bleiben da.
page-new = Neuer Test
page-tests = Tests mit diesem Handy
page-no-tests = Noch keine Tests.
page-open = nicht fertig
page-unknown = unbekannt
page-go-on = Weiter
page-to-start = Alle Tests
page-strip = Code auf dem Streifen
page-pick = Wähle den Code
page-box = Schachtel { $lot }
page-scan = Code scannen
page-scan-go = Bild lesen
page-scan-list = Oder wähle aus der Liste:
page-scan-busy = Wir suchen den Code.
page-scan-none = Auf diesem Bild können wir keinen Code lesen.
    .do = Halte das Handy nah und still. Der Code muss das Bild füllen. Oder wähle aus der Liste.
page-scan-large = Dieses Bild ist zu groß.
    .do = Mach mit der Kamera ein kleineres. Oder wähle aus der Liste.
page-scan-no-picture = Diese Datei ist kein Bild, das wir lesen können.
    .do = Mach ein Foto vom Code. Oder wähle aus der Liste.
page-scan-no-link = Ohne Netz kannst du nicht scannen. Wähle aus der Liste.
page-picked-well = Auf dem Schild steht { $code }.
    .do = Ist das dein Brunnen? Dann drücke darauf.
page-picked-strip = Auf dem Streifen steht { $code }.
    .do = Ist das dein Streifen? Dann drücke den Knopf.
page-picked-box = Auf der Schachtel steht { $code }.
    .do = Wähle jetzt die Nummer, die auf dem Streifen steht.
page-whole-list = Die ganze Liste zeigen
page-sheet-title = Schilder und Aufkleber
page-sheet-how = Druck das auf Papier, das Wasser verträgt. Schneide es auseinander und klebe jedes Stück dorthin, wo es hingehört. Die Codes gelten nur für die Listen dieser Studie.
page-sheet-wells = Schilder für die Brunnen
page-sheet-boxes = Aufkleber für die Schachteln
page-sheet-strips = Aufkleber für die Streifen
page-sheet-well = Brunnen
page-sheet-box = Schachtel mit Streifen
page-sheet-strip = Streifen
page-sheet-numbers = Streifen { $first } bis { $last }
page-sheet-until = Gut bis { $day }
page-sheet-recalled = Zurückgerufen: { $numbers }
page-temperature = Wie viel °C?
page-file = Datei der Messung
page-go-strip = Ich habe diesen Streifen
page-go-temperature = So warm ist es
page-go-rinse = Ich spüle jetzt
page-go-apply = Der Tropfen ist drauf
page-go-start = Die Messung läuft jetzt
page-go-file = Datei schicken
page-stop = Diesen Test abbrechen
page-control = Kontroll-Fläschchen
page-sample = Wasser
page-second = Wasser, zweiter Streifen
page-wait = Warte { $seconds } Sekunden.
page-within = Mach es in den nächsten { $minutes } Minuten.
page-call = Anrufen
page-no-result = NOCH KEIN ERGEBNIS. Dieses Wasser gilt als unbekannt. Nimm es nicht für Babys.
    .do = Alle Schritte sind auf diesem Handy. Geh an einen Ort mit Netz. Lass diese Seite offen.
page-no-link = Kein Netz. Deine Schritte sind auf diesem Handy.
page-language = English
page-light = Hell
page-dark = Dunkel
page-elsewhere = Diese Seite gibt es nicht.
    .do = Geh zurück zu allen Tests.
page-stale = Dieser Schritt ist schon gemacht oder gehört nicht hierher.
    .do = Mach den Schritt, der jetzt kommt.
page-form = Diese Seite ist zu alt.
    .do = Geh zurück zu allen Tests und mach den Schritt noch einmal.
page-too-large = Diese Datei ist zu groß.
    .do = Wähle die Datei dieser Messung.
page-busy = Der Computer kann das gerade nicht annehmen.
    .do = Warte ein wenig. Drücke dann den Knopf noch einmal.
