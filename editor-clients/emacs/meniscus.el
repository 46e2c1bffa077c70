;;; meniscus.el --- Plans of moisture-sensitive reactions  -*- lexical-binding: t; -*-

;; Author: Meniscus developers <developers@meniscus.example>
;; Version: 0.1.0
;; Package-Requires: ((emacs "28.1") (eglot "1.9"))
;; Keywords: languages, tools
;; SPDX-License-Identifier: MIT OR Apache-2.0

;;; Commentary:

;; A major mode for plans (`*.prep') and the client of the language server `meniscus', by way of Eglot:
;; amounts on hover and behind the lines, findings while the plan is drafted, rescaling by \\[meniscus-rescale].

;;; Code:

(require 'cl-lib)
(require 'eglot)
(require 'flymake)
(require 'jsonrpc)
(require 'seq)
(require 'subr-x)

(defgroup meniscus nil
  "Plans of reactions as plain text."
  :group 'languages
  :prefix "meniscus-")

(defcustom meniscus-server nil
  "The language server, or nil to look for it.
It is looked for in variable `exec-path', and then where cargo installs
programs, which an Emacs that was not started from a shell often does not
search."
  :type '(choice (const :tag "Look for it" nil) (file :tag "Program")))

(defcustom meniscus-start-server t
  "Whether visiting a plan starts the server.
Otherwise `eglot' does."
  :type 'boolean)

(defcustom meniscus-inlay-hints t
  "Whether the amounts stand behind the lines; Emacs 29 and later show them."
  :type 'boolean)

(defconst meniscus-client-version "0.1.0"
  "The version of this client; the server of the same version fits it.")

;;; Words of the language

(defconst meniscus--headers '("materials" "products" "equipment" "steps" "runs")
  "What stands alone on its line and begins a block.")

(defconst meniscus--line-words '("scale" "reaction" "room" "start" "author" "date" "source")
  "What begins a line of its own, `plan', `note' and the headers aside.")

(defconst meniscus--verbs
  '("wash" "rinse" "flush" "drain" "air-dry" "air dry" "dry" "vacuum-dry" "vacuum dry" "flame-dry"
    "flame dry" "bake" "oven-dry" "oven dry" "wet" "assemble" "attach" "connect" "equip" "fit"
    "place" "put" "lower" "immerse" "remove" "cool" "chill" "recool" "cool down" "let cool"
    "allow to cool" "warm" "warm up" "let warm" "allow to warm" "heat" "heat up" "reheat" "reflux"
    "heat under reflux" "bring to reflux" "hold" "maintain" "age" "incubate" "evacuate" "pump down"
    "evacuate and refill" "evacuate and backfill" "evacuate and fill" "purge" "sparge" "bubble"
    "fill" "backfill" "refill" "vent" "open" "seal" "cap" "stopper" "close" "reseal" "weigh" "weigh out" "grind"
    "set up" "let come" "allow to come" "let sit" "allow to sit" "run tlc" "take tlc" "strip" "strip solvent"
    "strip the solvent" "let it cool" "allow it to cool" "let it warm" "allow it to warm" "vented"
    "layer" "adjust" "top up"
    "allow to reflux" "let reflux" "allow the solvent to evaporate" "let the solvent evaporate"
    "let solvent evaporate" "allow to evaporate" "let evaporate" "allow to react" "let react"
    "release the pressure" "release pressure" "steam distill" "steam distil" "steam-distill"
    "steam-distil" "evaporate off" "distill off" "distil off" "boil off" "bring up"
    "bring to a boil" "bring to the boil" "raise the temperature" "increase the temperature"
    "lower the temperature" "siphon off" "draw off" "allow the phases to separate"
    "allow the layers to separate" "let the phases separate" "let the layers separate"
    "depressurise" "depressurize" "pressurise" "pressurize" "hydrogenate" "irradiate" "condense"
    "sublime" "partition" "store" "siphon" "bring" "freeze" "thaw" "let thaw" "allow to thaw"
    "take" "withdraw" "pipette" "pipette off" "drip" "dose" "feed" "tip"
    "crush" "pulverise" "pulverize" "add" "inject" "introduce" "charge" "treat" "dissolve"
    "redissolve" "take up" "make up" "transfer" "cannulate" "cannula transfer" "cannula-transfer"
    "titrate" "stir" "swirl" "shake" "agitate" "sonicate" "let stir" "allow to stir"
    "leave to stir" "keep stirring" "continue stirring" "begin stirring" "settle" "let settle"
    "allow to settle" "centrifuge" "spin down" "decant" "decant off" "pour off" "wait" "leave"
    "let stand" "allow to stand" "leave to stand" "quench" "neutralise" "neutralize" "acidify"
    "basify" "extract" "back-extract" "re-extract" "separate" "collect" "isolate" "combine" "mix"
    "filter" "filter off" "concentrate" "evaporate" "rotovap" "rotavap" "rotary-evaporate"
    "rotary evaporate" "concentrate down" "evaporate solvent" "evaporate the solvent"
    "remove solvent" "remove the solvent" "remove solvents" "remove the solvents"
    "remove volatiles" "remove the volatiles" "coevaporate" "co-evaporate" "azeotrope" "distil"
    "distill" "crystallise" "crystallize" "recrystallise" "recrystallize" "seed" "purify"
    "chromatograph" "column" "flash column" "flash-column" "flash chromatograph" "chromatography"
    "column chromatography" "flash chromatography" "flash column chromatography" "elute" "dilute"
    "pour" "suspend" "triturate" "resuspend" "degas" "freeze-pump-thaw" "freeze pump thaw" "keep"
    "discard" "check" "tlc" "monitor" "confirm" "verify" "ensure" "repeat" "expect" "note")
  "What a step begins with.")

(defconst meniscus--verbs-of-text '("note" "expect" "check" "tlc" "run tlc" "take tlc" "monitor" "confirm" "verify" "ensure")
  "The verbs behind which the line is text.")

(defconst meniscus--verbs-or-words '("dry" "warm" "cool" "column" "cap" "stopper" "mix")
  "The verbs that may be something else behind a comma.")

(defconst meniscus--units-in-any-case
  '("eq" "equiv" "equivs" "equivalents" "equivalent" "eqs" "mmol" "mmols" "mol" "mols" "mole" "moles"
    "µmol" "umol" "nmol" "kmol" "mg" "kg" "µg" "ug" "ng" "mL" "millilitres" "milliliters" "µL" "uL"
    "nL" "dL" "cL" "min" "mins" "minutes" "minute" "weeks" "week" "mbar" "bar" "µbar" "ubar" "atm"
    "Torr" "mmHg" "psi" "ppm" "cm" "rpm")
  "Units that are also written all in lower or all in upper case.")

(defconst meniscus--units
  '("g" "grams" "gram" "L" "l" "litres" "liters" "litre" "liter" "h" "hours" "hour" "hr" "hrs" "s"
    "sec" "secs" "seconds" "second" "d" "days" "day" "°C" "C" "℃" "degC" "oC" "K" "°F" "℉" "Pa" "hPa"
    "kPa" "MPa" "mPa" "M" "mM" "µM" "uM" "nM" "N" "Å" "mm" "nm" "µm" "um")
  "Units that keep their case.")

(defconst meniscus--percents '("%" "wt%" "wt %" "vol%" "vol %" "w/v%" "mol%" "mol %" "% RH" "% w/w" "% v/v" "% w/v")
  "Shares.")

;;; Reading lines

(defconst meniscus--block-line
  (concat "^[[:space:]]*\\(?:plan\\(?:[[:space:]:]\\|$\\)\\|"
          (regexp-opt meniscus--headers t) ":?[[:space:]]*\\(?:#.*\\)?$\\)")
  "A line that ends the block above it.
The first group is the block that it begins.")

(defun meniscus--block ()
  "The name of the block that the line at point stands in, or nil."
  (save-excursion
    (save-match-data
      (beginning-of-line)
      (let ((case-fold-search t))
        (when (and (re-search-backward meniscus--block-line nil t) (match-string 1))
          (downcase (match-string-no-properties 1)))))))

(defun meniscus--search-in (blocks regexp limit)
  "Search for REGEXP before LIMIT in the BLOCKS, a list of names and nil."
  (let (found)
    (while (and (setq found (re-search-forward regexp limit t))
                (not (member (save-excursion (goto-char (match-beginning 0)) (meniscus--block)) blocks))))
    found))

;;; Colours

(defconst meniscus--step
  "^[[:space:]]*\\(?:[0-9]+[.)][[:space:]]+\\)?\\(?:[[:alpha:]]+ly[[:space:]]+\\)*"
  "The beginning of a step, up to its verb.")

(defun meniscus--words (words)
  "A regexp with a group for one of the WORDS, which ends where a word does."
  (concat (regexp-opt words t) "\\_>"))

(defconst meniscus--quantity
  (let ((number "\\(?:[0-9]+\\(?:\\.[0-9]+\\)?\\|\\.[0-9]+\\)\\(?:[eE][-+−]?[0-9]+\\)?")
        (unit (regexp-opt
               (append meniscus--units meniscus--percents meniscus--units-in-any-case
                       (mapcar #'downcase meniscus--units-in-any-case)
                       (mapcar #'upcase meniscus--units-in-any-case))
               t)))
    (concat "\\(?:[0-9]+ *[x×] *\\)?[-+−–‐]?" number
            "\\(?:\\(?: *[-−–‐] *\\| to \\)[-+−–‐]?" number "\\)?"
            " *" unit "\\(?:/" unit "\\)?\\(?: *[x×] *[0-9]+\\)?"))
  "A number or range with its unit, and how often.")

(defun meniscus--match-quantity (limit)
  "Search for a quantity before LIMIT that is a word of its own."
  (let ((case-fold-search nil) found)
    (while (and (setq found (re-search-forward meniscus--quantity limit t))
                (not (and (memq (char-before (match-beginning 0)) '(nil ?\s ?\t ?\n ?\u00a0 ?\( ?~ ?< ?> ?= ?≤ ?≥))
                          (looking-at-p "[[:space:],;.)]\\|$"))))
      (goto-char (1+ (match-beginning 0))))
    found))

(defun meniscus--match-key (limit)
  "Search for the key of an entry before LIMIT."
  (let ((word "[^[:space:]\n,:#>]+"))
    (meniscus--search-in
     '("materials" "products" "equipment" "runs")
     (concat "^[[:space:]]*\\(" word "\\(?: " word "\\)\\{0,2\\}\\):") limit)))

(defun meniscus--match-change (limit)
  "Search before LIMIT for a key of a run that stands before `is'."
  (meniscus--search-in
   '("runs") "[:,][[:space:]]+\\([^[:space:]\n,:#>]+\\)[[:space:]]+\\(is\\)[[:space:]]" limit))

(defun meniscus--match-line-word (limit)
  "Search for a word before LIMIT that begins a line of its own."
  (let (found)
    (while (and (setq found (re-search-forward
                             (concat "^[[:space:]]*" (meniscus--words meniscus--line-words)) limit t))
                (looking-at-p ":")
                (member (downcase (match-string 1)) '("start" "author" "date" "source"))
                (member (meniscus--block) '("materials" "products" "equipment" "runs"))))
    found))

(defun meniscus--match-text (limit)
  "Search before LIMIT for a line that is text behind its first word."
  (meniscus--search-in
   '("steps") (concat meniscus--step (meniscus--words (cons "if" meniscus--verbs-of-text)) "\\(.*\\)$") limit))

(defun meniscus--match-place (limit)
  "Search before LIMIT for a line that names a place."
  (meniscus--search-in
   '("steps")
   "^[[:space:]]*\\(\\(?:meanwhile[[:space:]]+\\)?in\\|out of\\|the day before\\|on the day\\)\\_>" limit))

(defun meniscus--match-verb (limit)
  "Search for the verb of a step before LIMIT."
  (meniscus--search-in '("steps") (concat meniscus--step (meniscus--words meniscus--verbs)) limit))

(defun meniscus--match-next-verb (limit)
  "Search before LIMIT for a verb behind a comma."
  (meniscus--search-in
   '("steps")
   (concat ",[[:space:]]+\\(?:then[[:space:]]+\\)?"
           (meniscus--words (seq-difference meniscus--verbs meniscus--verbs-or-words)))
   limit))

(defconst meniscus--font-lock-keywords
  `(("^[[:space:]]*\\(plan\\)\\(?::\\|\\_>\\)\\(.*\\)$"
     (1 font-lock-keyword-face)
     (2 font-lock-function-name-face keep))
    (,(concat "^[[:space:]]*" (regexp-opt meniscus--headers t) ":?[[:space:]]*\\(?:#.*\\)?$")
     1 font-lock-keyword-face)
    (meniscus--match-line-word 1 font-lock-keyword-face)
    ("^[[:space:]]*\\(note\\)\\(?::\\|\\_>\\)\\(.*\\)$"
     (1 font-lock-keyword-face)
     (2 font-lock-doc-face keep))
    (meniscus--match-text (1 font-lock-builtin-face) (2 font-lock-doc-face keep))
    (meniscus--match-key 1 font-lock-variable-name-face)
    (meniscus--match-change (1 font-lock-variable-name-face) (2 font-lock-keyword-face))
    (meniscus--match-place 1 font-lock-keyword-face)
    (meniscus--match-verb 1 font-lock-builtin-face)
    (meniscus--match-next-verb 1 font-lock-builtin-face)
    (meniscus--match-quantity 0 font-lock-constant-face)))

(defconst meniscus--syntax-propertize
  (syntax-propertize-rules
   ("^[[:space:]]*\\(#\\)" (1 "<"))
   ("[[:space:]]\\(#\\)\\(?:[^0-9\n]\\|$\\)" (1 "<")))
  "Where a `#' begins a comment.
There it stands first, or behind white space and not before a digit.")

(defvar meniscus-mode-syntax-table
  (let ((table (make-syntax-table)))
    (modify-syntax-entry ?\n ">" table)
    (modify-syntax-entry ?# "." table)
    (modify-syntax-entry ?\u00a0 " " table)
    (modify-syntax-entry ?\" "." table)
    (modify-syntax-entry ?\\ "." table)
    (modify-syntax-entry ?' "_" table)
    (modify-syntax-entry ?% "." table)
    table)
  "Syntax table of `meniscus-mode'.")

;;; Indentation and index

(defun meniscus--indentation ()
  "The column in which the line at point begins."
  (save-excursion
    (beginning-of-line)
    (let ((case-fold-search t))
      (when (looking-at-p "[[:space:]]*#")
        ;; A comment belongs to what stands below it.
        (let ((comment (point)))
          (while (and (zerop (forward-line)) (looking-at-p "[[:space:]]*\\(?:#\\|$\\)") (not (eobp))))
          (when (eobp) (goto-char comment))))
      (if (or (looking-at-p meniscus--block-line) (not (meniscus--block))) 0 2))))

(defun meniscus-indent-line ()
  "Indent a line of a plan by two spaces if it stands in a block."
  (interactive)
  (let ((column (meniscus--indentation)))
    (if (<= (current-column) (current-indentation))
        (indent-line-to column)
      (save-excursion (indent-line-to column)))))

(defun meniscus--imenu ()
  "An index of the plans of the buffer and their blocks."
  (let ((case-fold-search t) plans)
    (save-excursion
      (goto-char (point-min))
      (while (re-search-forward meniscus--block-line nil t)
        (let ((block (match-string-no-properties 1)) (start (match-beginning 0)))
          (if block
              (push (cons (downcase block) start) (cdr (or (car plans) (car (push (list "(no title)") plans)))))
            (goto-char start)
            (looking-at "[[:space:]]*plan:?[[:space:]]*\\(.*?\\)[[:space:]]*\\(?:[[:space:]]#.*\\)?$")
            (let ((title (match-string-no-properties 1)))
              (push (list (if (string-empty-p title) "(no title)" title) (cons "plan" start)) plans))
            (end-of-line)))))
    (dolist (plan plans) (setcdr plan (nreverse (cdr plan))))
    (nreverse plans)))

;;; The server

(defun meniscus--program ()
  "The path of the server, or nil."
  (let ((cargo (expand-file-name "bin/meniscus" (or (getenv "CARGO_HOME") "~/.cargo"))))
    (if meniscus-server
        (executable-find (if (file-name-directory meniscus-server)
                             (expand-file-name meniscus-server)
                           meniscus-server))
      (or (executable-find "meniscus") (executable-find cargo)))))

(defun meniscus--trouble ()
  "Why the server cannot be started and what to do about it, or nil."
  (unless (meniscus--program)
    (format "there is no program `%s', so plans are not checked.  \
Install it from its source folder with `cargo install --path server/meniscus --locked', \
or set `meniscus-server' to the program's path; then type M-x eglot in the plan"
            (or meniscus-server "meniscus"))))

(defvar meniscus--warned nil
  "What was warned of, which is not warned of again.")

(defun meniscus--start ()
  "Start the server for this buffer, or say once why it cannot be started."
  (let ((trouble (meniscus--trouble)))
    (cond ((null trouble) (eglot-ensure))
          ((equal trouble meniscus--warned) (message "Meniscus: %s" trouble))
          (t (setq meniscus--warned trouble)
             (display-warning 'meniscus trouble)))))

(defun meniscus--contact (&rest _)
  "The server with its arguments, for Eglot to start."
  (if-let ((trouble (meniscus--trouble)))
      (user-error "Meniscus: %s" trouble)
    (list 'meniscus-eglot-server (meniscus--program) "serve" "--stdio")))

(defun meniscus--readable-uri (uri)
  "URI with its percent signs read where they stand for non-ASCII characters."
  (decode-coding-string
   (replace-regexp-in-string
    "%[89A-Fa-f][0-9A-Fa-f]"
    (lambda (byte) (unibyte-string (string-to-number (substring byte 1) 16)))
    (encode-coding-string uri 'utf-8) t t)
   'utf-8))

(defclass meniscus-eglot-server (eglot-lsp-server) ()
  :documentation "The server of plans.")

(cl-defmethod eglot-handle-notification :around
  ((server meniscus-eglot-server) (method (eql textDocument/publishDiagnostics))
   &rest parameters &key uri &allow-other-keys)
  "Show findings in files with names like `µ.prep', too.
Eglot leaves such a name in bytes, and finds no buffer that visits it."
  (apply #'cl-call-next-method server method
         :uri (meniscus--readable-uri uri) parameters))

(add-to-list 'eglot-server-programs
             '((meniscus-mode :language-id "prep") . meniscus--contact))

(defun meniscus--mismatch (server)
  "What to do where the version SERVER is not that of the client, or nil."
  (let ((release (lambda (version) (and version (seq-take (split-string version "[.]") 2)))))
    (unless (equal (funcall release server) (funcall release meniscus-client-version))
      (format "the server is of version %s and this client of %s, so that some of it may not work.  \
Install both anew from the same source folder, and restart Emacs"
              (or server "unknown") meniscus-client-version))))

(defun meniscus--managed ()
  "Show the amounts behind the lines, or do not; warn once of another version."
  (when (eglot-managed-p)
    (when (fboundp 'eglot-inlay-hints-mode)
      (eglot-inlay-hints-mode (if meniscus-inlay-hints 1 -1)))
    (let ((trouble (meniscus--mismatch
                    (plist-get (eglot--server-info (eglot-current-server)) :version))))
      (unless (or (null trouble) (equal trouble meniscus--warned))
        (setq meniscus--warned trouble)
        (display-warning 'meniscus trouble)))))

(defun meniscus--server ()
  "The server of this buffer; where there is none, an error with what to do."
  (or (eglot-current-server)
      (user-error "Meniscus: %s" (or (meniscus--trouble) "the server does not run here: M-x eglot starts it"))))

;;; Commands

(defvar meniscus--goals nil
  "History of the goals of `meniscus-rescale'.")

(defun meniscus--remarks (summary)
  "What to know of a rescaling by its SUMMARY.
Pairs of a line, counted from 1, and a text; a line of nil is the whole plan."
  (append
   (mapcar (lambda (wrong)
             (cons (1+ (plist-get wrong :line))
                   (format "new %s: %s" (plist-get wrong :severity) (plist-get wrong :message))))
           (plist-get summary :newlyWrong))
   (mapcar (lambda (left)
             (cons (1+ (plist-get left :line))
                   (format "%s was left alone (%s)" (plist-get left :text) (plist-get left :place))))
           (plist-get summary :leftAlone))
   (mapcar (apply-partially #'cons nil) (plist-get summary :notes))))

(defun meniscus--report (title remarks)
  "Show the TITLE of what was done, and the REMARKS on it where there are any."
  (if (null remarks)
      (message "Meniscus: %s" title)
    (let ((plan (current-buffer)))
      (with-current-buffer (get-buffer-create "*Meniscus*")
        (let ((inhibit-read-only t))
          (erase-buffer)
          (insert title "\n")
          (pcase-dolist (`(,line . ,text) remarks)
            (insert "\n")
            (if (null line)
                (insert text)
              (insert-text-button (format "line %d" line)
                                  'action (lambda (_)
                                            (pop-to-buffer plan)
                                            (goto-char (point-min))
                                            (forward-line (1- line))))
              (insert ": " text)))
          (insert "\n")
          (goto-char (point-min)))
        (special-mode)
        (visual-line-mode)
        (display-buffer (current-buffer)))
      (message "Meniscus: %s; see %s" title "*Meniscus*"))))

(defun meniscus--execute (server argument)
  "Have the SERVER rescale by ARGUMENT, and make its edit.
Returns the summary of what comes of it."
  (let ((tick (buffer-chars-modified-tick))
        summary failure)
    ;; The edit is a request of the server, and comes before or after the answer
    ;; to ours.  `jsonrpc-request' would leave it unread, in older versions, if
    ;; it came together with the answer.
    (jsonrpc-async-request
     server :workspace/executeCommand
     (list :command "meniscus.rescale" :arguments (vector argument))
     :success-fn (lambda (result) (setq summary result))
     :error-fn (lambda (problem) (setq failure (plist-get problem :message)))
     :timeout-fn (lambda () (setq failure "the server does not answer")))
    (with-suppressed-warnings ((obsolete eglot-confirm-server-initiated-edits))
      ;; Older versions of Eglot ask whether the server may edit, which is what
      ;; the user has just said.
      (let ((eglot-confirm-server-initiated-edits
             (and (not (eq eglot-confirm-server-initiated-edits 'confirm))
                  eglot-confirm-server-initiated-edits)))
        (with-timeout (15 (setq failure "the edit of the server did not arrive"))
          (while (not (or failure
                          (and summary
                               (/= tick (buffer-chars-modified-tick)))))
            (accept-process-output nil 0.02)))))
    (when failure (user-error "Meniscus: %s" failure))
    summary))

(defun meniscus-rescale (goal &optional equipment)
  "Rescale the plan around point to GOAL.
A goal is `2x', `/ 2', `10 mmol', `2.0 g of KEY' (a material, or a
product by its expected yield), `bottles', `bottle of KEY' or
`flask 250 mL'.
With a prefix argument, or EQUIPMENT, the sizes of equipment follow."
  (interactive
   (progn
     (meniscus--server)
     (list (read-string "Rescale to (2x, 10 mmol, 2.0 g of KEY, bottles, flask 250 mL): " nil 'meniscus--goals)
           current-prefix-arg)))
  (let ((server (meniscus--server)))
    (barf-if-buffer-read-only)
    (eglot--signal-textDocument/didChange)
    (let ((place (eglot--TextDocumentPositionParams)))
      (undo-boundary)
      (let ((summary (meniscus--execute
                      server
                      (list :uri (plist-get (plist-get place :textDocument) :uri)
                            :position (plist-get place :position)
                            :goal goal
                            :version (plist-get (eglot--VersionedTextDocumentIdentifier) :version)
                            :equipment (if equipment t :json-false)))))
        (meniscus--report (plist-get summary :title) (meniscus--remarks summary))))))

(defun meniscus-version ()
  "Tell the versions of client and server, and whether they fit."
  (interactive)
  (let* ((program (or (meniscus--program) (user-error "Meniscus: %s" (meniscus--trouble))))
         (said (car (process-lines program "--version")))
         (server (car (last (split-string said)))))
    (message (if (equal server meniscus-client-version)
                 "Meniscus: client %s, server %s (%s)"
               (concat "Meniscus: client %s, server %s (%s): they differ;"
                       " install both anew from the same source folder"))
             meniscus-client-version server program)))

(defvar meniscus-mode-map
  (let ((map (make-sparse-keymap)))
    (define-key map (kbd "C-c C-r") #'meniscus-rescale)
    (define-key map (kbd "C-c C-a") #'eglot-code-actions)
    (define-key map (kbd "C-c C-d") #'eldoc-doc-buffer)
    (define-key map (kbd "C-c C-n") #'flymake-goto-next-error)
    (define-key map (kbd "C-c C-p") #'flymake-goto-prev-error)
    map)
  "Keys of `meniscus-mode'.")

(easy-menu-define meniscus-menu meniscus-mode-map
  "Menu of `meniscus-mode'."
  '("Meniscus"
    ["Rescale the plan…" meniscus-rescale]
    ["Mend the finding here" eglot-code-actions]
    ["Next finding" flymake-goto-next-error]
    ["Everything about what is here" eldoc-doc-buffer]
    ["Versions" meniscus-version]))

;;;###autoload
(define-derived-mode meniscus-mode prog-mode "Plan"
  "Major mode for plans of reactions.

\\{meniscus-mode-map}"
  (setq-local comment-start "# "
              comment-start-skip "#+[[:space:]]*"
              comment-end ""
              indent-tabs-mode nil
              indent-line-function #'meniscus-indent-line
              imenu-create-index-function #'meniscus--imenu
              syntax-propertize-function meniscus--syntax-propertize
              font-lock-defaults '(meniscus--font-lock-keywords nil t))
  (add-hook 'eglot-managed-mode-hook #'meniscus--managed nil t)
  (when (and meniscus-start-server buffer-file-name)
    (meniscus--start)))

;;;###autoload
(add-to-list 'auto-mode-alist '("\\.prep\\'" . meniscus-mode))

(provide 'meniscus)
;;; meniscus.el ends here
